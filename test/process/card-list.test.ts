import { execFileSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type CardImage, cardImage, whyNoCards } from '../rim/card/card-image.ts';
import { c4ByHand, historyByHand } from '../rim/manifest/by-hand.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/**
 * The real program beside a real card with lists of its contents on it, which nobody copies along. Hashes are made by md5sum(1) of
 * GNU coreutils and by xxhsum(1); the history is written by hand after the ASC Media Hash List Specification 1.0.
 */
let place: Bench;
let card: CardImage;

const whyNot = whyNoCards('exfat');
if (whyNot !== null)
  console.warn(`NOT CHECKED: lists on real cards beside the real program. None can be put in here: ${whyNot}`);

const TAKES = ['tidewater-a.mov', 'tidewater-b.mov', 'tidewater-c.mov', 'tidewater-d.mov'];
const [INTACT = '', ALTERED = '', MISSING = '', OTHER = ''] = TAKES;
const FOLDER = 'DCIM/100SALTM';
const ARRIVED = 'Saltmarsh/SALT_A';

describe.skipIf(whyNot !== null)('a list that stays on its card', () => {
  beforeEach(() => {
    place = bench();
    mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
    card = cardImage('exfat', 'SALT_A');
    card.inCamera((root) => {
      mkdirSync(join(root, FOLDER), { recursive: true });
      for (const name of TAKES) cpSync(join(media, name), join(root, FOLDER, name));
    });
  });
  afterEach(async () => {
    await place.clear();
    card.remove();
  });

  /** As md5sum(1) has it. */
  const md5Of = (file: string) => execFileSync('md5sum', [file], { encoding: 'utf8' }).slice(0, 32);

  function listOnCard(names = TAKES): void {
    card.inCamera((root) => {
      const files = names.map((name) => {
        const file = join(root, FOLDER, name);
        return { path: `${FOLDER}/${name}`, size: statSync(file).size, md5: md5Of(file) };
      });
      historyByHand(root, 'SALT_A', [files]);
    });
  }

  function start(): Promise<Running> {
    const file = join(place.folder, 'headroomd.toml');
    writeFileSync(
      file,
      `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*"\n[arrivals]\nquiet_remote = "2 s"\nstalled_after = "3 s"\n[cards]\nunder = ["${card.under}"]\n`,
    );
    return place.start(['--config', file]);
  }

  const lists = (daemon: Running) => daemon.status().cards.flatMap((one) => one.lists);
  const check = (daemon: Running) => lists(daemon)[0]?.check ?? null;
  const told = (daemon: Running, kind = 'list-differs') =>
    daemon.status().advisories.filter((one) => one.kind === kind);
  const onVolume = (name: string) => join(place.volume, ARRIVED, FOLDER, name);
  const said = (daemons: Running[], what: string) =>
    daemons.flatMap((one) => one.log().match(new RegExp(`${what}.*`, 'g')) ?? []).length;

  /** As a person's copy does: with its time, and without the list. */
  function copy(...names: string[]): void {
    for (const name of names) {
      mkdirSync(dirname(onVolume(name)), { recursive: true });
      cpSync(join(card.mountPoint, FOLDER, name), onVolume(name), { preserveTimestamps: true });
    }
  }

  /** One bit of the picture, as a bad cable flips it: size, time and structure stay. */
  function copyBadly(name: string): void {
    copy(name);
    const { mtime } = statSync(onVolume(name));
    const bytes = readFileSync(onVolume(name));
    const at = Math.floor(bytes.length / 2);
    bytes[at] = (bytes[at] ?? 0) ^ 1;
    writeFileSync(onVolume(name), bytes);
    execFileSync('touch', ['-d', mtime.toISOString(), onVolume(name)]);
  }

  /** The process of this daemon's that reads a list on a card now. */
  function readerOf({ child }: Running): number | null {
    const isIts = (pid: string) => {
      try {
        const [parent] = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]?.split(' ').slice(1) ?? [];
        return (
          Number(parent) === child.pid && readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes('compose-card-list.ts')
        );
      } catch {
        return false;
      }
    };
    return Number(readdirSync('/proc').find((name) => /^\d+$/.test(name) && isIts(name))) || null;
  }

  test('all of it here and matching: said so, also after the card was pulled and over a kill; the card keeps every byte', async () => {
    listOnCard();
    const before = card.digest();
    const daemon = await start();
    card.mount('ro');
    await until('its list was read', () => lists(daemon)[0]?.state === 'whole', 90);
    expect(lists(daemon)).toMatchObject([{ place: 'ascmhl', listed: 4 }]);
    copy(...TAKES);
    await until('all was compared', () => check(daemon)?.intact === 4, 90);
    expect(check(daemon)).toMatchObject({ files: 4, altered: 0, missing: 0, pending: 0, notOnCard: 0 });
    expect(place.call('card').stdout.replaceAll(/\s+/g, ' ')).toContain(
      'The list ascmhl on the card names 4 files: all 4 have the content that is listed.',
    );
    card.unmount(true);
    expect(card.digest()).toBe(before);
    await daemon.end('SIGKILL');
    const next = await start();
    await until('it is known as before', () => check(next)?.intact === 4);
    expect(next.status().cards[0]?.state).toBe('gone');
    expect([told(next), told(next, 'card-incomplete')]).toEqual([[], []]);
    expect(existsSync(join(place.volume, ARRIVED, 'ascmhl'))).toBe(false);

    // Nothing is known of it once nobody wants to hear of it.
    const [{ id } = { id: '' }] = next.status().cards;
    expect(place.call('card', '--drop', id).status).toBe(0);
    await next.end('SIGKILL');
    const last = await start();
    expect(last.status().cards).toEqual([]);
  });

  test('what was altered and what is missing is told, after the pull and over a kill the same, and over when it is copied again', async () => {
    listOnCard();
    const daemon = await start();
    card.mount('ro');
    await until('its list was read', () => lists(daemon)[0]?.state === 'whole', 90);
    copy(INTACT, OTHER);
    copyBadly(ALTERED);
    await until('what was altered is told', () => told(daemon).length === 1, 90);
    const [first] = told(daemon);
    expect(first).toMatchObject({ severity: 'critical', figures: { alteredFiles: 1 } });
    expect(first?.message).toBe(
      `List ascmhl on card SALT_A: 1 of its 4 files is not as listed: ${FOLDER}/${ALTERED} (the list says md5 ${md5Of(join(media, ALTERED))}, found ${md5Of(onVolume(ALTERED))} at ${ARRIVED}/${FOLDER}/${ALTERED} on stripe). Keep the card as it is.`,
    );
    await until('what is missing is told', () => told(daemon, 'card-incomplete').length === 1, 90);
    expect(told(daemon, 'card-incomplete')[0]?.message).toContain(MISSING);
    expect(check(daemon)).toMatchObject({ files: 4, intact: 2, altered: 1, missing: 1, pending: 0 });

    card.unmount(true);
    await until('it was seen to go', () => daemon.status().cards[0]?.state === 'gone');
    await daemon.end('SIGKILL');
    const next = await start();
    await until('it is known as before', () => told(next)[0]?.message === first?.message, 90);
    await until('what is missing too', () => /was taken out/.test(told(next, 'card-incomplete')[0]?.message ?? ''), 90);
    expect(said([daemon, next], 'list-differs:SALT_A/ascmhl .*"event":"first"')).toBe(1);

    card.mount('ro');
    await until('it is in again', () => next.status().cards[0]?.state === 'mounted');
    copy(ALTERED, MISSING);
    await until('it is over', () => told(next).length + told(next, 'card-incomplete').length === 0, 90);
    await until('all was compared', () => check(next)?.intact === 4, 90);
    expect(said([daemon, next], 'list-differs:SALT_A/ascmhl .*"event":"cleared"')).toBe(1);
    expect(said([daemon, next], '"event":"card-list"')).toBe(1);
  });

  test('pulled in the middle of the reading: nothing is taken from what lies there then, and it is read when it is in again', async () => {
    // Long enough to be caught at it.
    card.inCamera((root) => {
      const more = Array.from({ length: 60_000 }, (_, n) => `${'0'.repeat(32)}  NOTES/${n}.txt`).join('\n');
      const md5 = execFileSync(
        'md5sum',
        TAKES.map((name) => `${FOLDER}/${name}`),
        { cwd: root, encoding: 'utf8' },
      );
      writeFileSync(join(root, 'MD5SUMS'), `${more}\n${md5}`);
    });
    const before = card.digest();
    const daemon = await start();
    card.mount('ro');
    let reader: number | null = null;
    await until('its list is being read', () => {
      reader = readerOf(daemon);
      return reader !== null;
    });
    if (reader === null) throw new Error('there is a process');
    process.kill(reader, 'SIGSTOP');
    expect(daemon.log()).not.toContain('List read');
    card.unmount(true);
    // In its folder then lies a list that says something else.
    writeFileSync(join(card.mountPoint, 'MD5SUMS'), `${'f'.repeat(32)}  ${FOLDER}/${INTACT}\n`);
    await until('it was seen to go', () => daemon.status().cards[0]?.state === 'gone');
    process.kill(reader, 'SIGCONT');
    await until('it is said', () => lists(daemon)[0]?.state === 'unread', 90);
    expect(place.call('card').stdout.replaceAll(/\s+/g, ' ')).toContain(
      'The list MD5SUMS on the card was not read, and no contents were compared with it: the card was taken out while it was read.',
    );
    rmSync(join(card.mountPoint, 'MD5SUMS'));

    card.mount('ro');
    await until('its list was read', () => lists(daemon)[0]?.state === 'whole', 90);
    expect(lists(daemon)).toMatchObject([{ place: 'MD5SUMS', listed: 60_004 }]);
    copy(INTACT);
    copyBadly(ALTERED);
    await until('what was altered is told', () => told(daemon).length === 1, 90);
    expect(told(daemon)[0]?.message).toContain(`found ${md5Of(onVolume(ALTERED))} at`);
    card.unmount(true);
    expect(card.digest()).toBe(before);
  });

  test('a list that is copied along as well tells nothing twice', async () => {
    listOnCard();
    const daemon = await start();
    card.mount('ro');
    await until('its list was read', () => lists(daemon)[0]?.state === 'whole', 90);
    copy(INTACT, OTHER, MISSING);
    copyBadly(ALTERED);
    await until('what was altered is told', () => told(daemon).length === 1, 90);
    cpSync(join(card.mountPoint, 'ascmhl'), join(place.volume, ARRIVED, 'ascmhl'), { recursive: true });
    const copied = () => daemon.status().cards.find(({ source }) => source === 'manifest');
    await until('the other list found the same', () => copied()?.check?.altered === 1, 90);
    await until('and was looked at', () => /Manifest read/.test(daemon.log()));
    expect(told(daemon).map(({ subject }) => subject)).toEqual([expect.stringMatching(/^SALT_A\/ascmhl \(/)]);
    expect(said([daemon], '"event":"first".*')).toBeGreaterThan(0);
    expect(said([daemon], 'list-differs:.*"event":"first"')).toBe(1);
  });

  test('lists of checksums on it, with what is no list; one that its chain does not vouch for is said to be so', async () => {
    listOnCard();
    card.inCamera((root) => {
      const manifest = join(root, 'ascmhl/0001_SALT_A_2027-02-11_090000Z.mhl');
      writeFileSync(manifest, readFileSync(manifest, 'utf8').replace('</md5>', '</md5> '));
      const options = { cwd: join(root, FOLDER), encoding: 'utf8' } as const;
      writeFileSync(join(root, FOLDER, 'day3.xxh128'), execFileSync('xxhsum', ['-H2', ...TAKES], options));
      writeFileSync(join(root, 'MD5SUMS'), Buffer.alloc(2000, 7));
    });
    const daemon = await start();
    card.mount('ro');
    await until('they were read', () => lists(daemon).length === 2);
    copy(...TAKES);
    await until('all was compared', () => lists(daemon)[0]?.check?.intact === 4, 90);
    expect(lists(daemon).map((one) => [one.place, one.state])).toEqual([
      [`${FOLDER}/day3.xxh128`, 'whole'],
      ['ascmhl', 'unusable'],
    ]);
    const c4 = c4ByHand(readFileSync(join(card.mountPoint, 'ascmhl/0001_SALT_A_2027-02-11_090000Z.mhl')));
    await until('it is told', () => /cannot be relied on/.test(told(daemon)[0]?.message ?? ''), 90);
    expect(told(daemon)[0]?.message).toContain(c4);
    expect(place.call('card').stdout).toContain('cannot be relied on');
  });
});
