import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'vitest';
import { effort } from '../../effort.ts';
import { canDoAll } from '../../packages.ts';
import { type Drive, exfatDrive, ext4Drive, run, unmountAt } from './machine.ts';

/** What a test needs of the machine, beyond a folder. */
export type Ability = 'drives' | 'exfat' | 'pass-through' | 'namespace' | 'unprivileged';

const scratch = <T>(body: (place: string) => T): T => {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-able-'));
  try {
    return body(place);
  } finally {
    rmSync(place, { recursive: true, force: true });
  }
};

const plugOnce = (make: (place: string) => Drive) => () =>
  scratch((place) => {
    const made = make(place);
    try {
      made.mount();
    } finally {
      made.remove();
    }
  });

const attempts: Record<Ability, () => unknown> = {
  drives: plugOnce((place) => ext4Drive(place)),
  exfat: plugOnce(exfatDrive),
  'pass-through': () =>
    scratch((place) => {
      const [from = '', to = ''] = ['from', 'to'].map((name) => join(place, name));
      mkdirSync(from);
      mkdirSync(to);
      run('bindfs', from, to);
      unmountAt(to);
    }),
  namespace: () => run('unshare', '-U', '-r', 'sh', '-c', 'echo 10 > /proc/sys/user/max_inotify_watches'),
  unprivileged: asUnprivileged,
};

/** As a user id that nobody has; or, where such a one cannot read this project, as user 0 without any special right. */
const WITHOUT_RIGHTS = [
  ['setpriv', '--reuid=1234', '--regid=1234', '--clear-groups'],
  ['setpriv', '--bounding-set=-all', '--inh-caps=-all'],
];

/** What a command runs through to have no special rights; nothing where we have none ourselves. */
export function asUnprivileged(): string[] {
  if (process.geteuid?.() !== 0) return [];
  const works = ([command = '', ...args]: readonly string[]) =>
    spawnSync(command, [...args, process.execPath, '--check', import.meta.filename]).status === 0;
  const through = WITHOUT_RIGHTS.find(works);
  if (through === undefined) throw new Error('setpriv cannot give up the rights of user 0 here');
  return [...through];
}

const found = new Map<Ability, string | null>();

/** Why this machine cannot do that, by trying; `null` when it can. */
export function whyNot(ability: Ability): string | null {
  const known = found.get(ability);
  if (known !== undefined) return known;
  let why: string | null = null;
  try {
    attempts[ability]();
  } catch (error) {
    const { message, stderr } = error as Error & { stderr?: string };
    why = `${ability}: ${(stderr || message).trim().split('\n').at(-1)}`;
  }
  found.set(ability, why);
  return why;
}

/**
 * A test that needs something of the machine. Where it is missing that is said loudly; on a machine that should have it,
 * the test fails.
 */
export function trap(name: string, needs: readonly Ability[], body: () => Promise<void>, seconds = 90): void {
  const [why] = needs.map(whyNot).filter((reason) => reason !== null);
  const timeout = seconds * 1000 * effort;
  if (why === undefined) test.concurrent(name, { timeout }, body);
  else if (canDoAll()) {
    test(name, () => {
      throw new Error(`NOT CHECKED, although this is user 0 with /dev/fuse and loop devices. ${why}`);
    });
  } else {
    console.warn(`NOT CHECKED: ${name}. This machine cannot do what it takes: ${why}`);
    test.skip(name, () => {});
  }
}
