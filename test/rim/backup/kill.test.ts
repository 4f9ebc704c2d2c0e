import { randomInt } from 'node:crypto';
import { linkSync, readdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { type CopyProcess, startCopyProcess } from '../../../src/rim/backup/copy-process.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { runs } from '../../effort.ts';
import { boundVolume, exfatVolume, whyNot } from '../watch/fuse-volume.ts';
import { copyAll, expectHonest, footage, type JobGround, jobGround, onShelf } from './jobs.ts';

const noBound = whyNot(boundVolume);
const noExfat = whyNot(exfatVolume);
if (noBound !== null) console.warn(`NOT CHECKED: a shelf that hangs. No such mount can be made here: ${noBound}`);
if (noExfat !== null) console.warn(`NOT CHECKED: a shelf in exFAT. None can be mounted here: ${noExfat}`);

let ground: JobGround;
beforeEach(() => {
  ground = jobGround();
});
afterEach(() => ground.remove());

function addFiles(): void {
  for (let at = 0; at < 150; at++) ground.add(`Saltmarsh/day ${at % 3}/${at}.mov`, footage(40_000 + at, at));
  for (let at = 0; at < 3; at++) ground.add(`Saltmarsh/large ${at}.mov`, footage(6_000_000 + at, at));
}

const copied = (done: Awaited<ReturnType<typeof copyAll>>) => done.outcomes.filter(({ is }) => is === 'copied').length;

test('killed at any time, again and again: the next job tidies up and completes it', async () => {
  addFiles();
  for (let round = 0; round < runs(4); round++) {
    let started: CopyProcess | null = null;
    const start = () => {
      started = startCopyProcess();
      return started;
    };
    const killing = delay(randomInt(150, 700))
      .then(() => process.kill(started?.pid ?? 0, 'SIGKILL'))
      .catch(() => {});
    const done = await copyAll(ground, createCopyPort({ clock: systemClock, start }));
    await killing;
    expectHonest(ground, done);
  }
  const done = await copyAll(ground);
  expect(copied(done)).toBe(ground.items.length);
  expectHonest(ground, done);
  expect(onShelf(ground.shelf)).toEqual(ground.items.map(({ target }) => target).sort());
});

const JOURNAL = '.headroomd-copying-0123abcd-1';
const noteOf = (owner: object, files: [number, string][]) => JSON.stringify({ owner, files });
const dead = { machine: readFileSync('/etc/machine-id', 'utf8').trim(), boot: 'an earlier one', pid: 1, began: '1' };

test('only what a journal of a dead job names is removed, by names that only we make', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  await copyAll(ground);
  const folder = join(ground.shelf, 'Saltmarsh');
  const names = ['.0123abcd-7.part', '.0123abcd-8.part', '.99999999-7.part', '7.part', '.7.part', 'A001.mov.part'];
  for (const name of names) writeFileSync(join(folder, name), 'x');
  // A kill between the two names of a verified file.
  linkSync(join(folder, 'one.mov'), join(folder, '.0123abcd-9.part'));
  const files: [number, string][] = [
    [7, 'Saltmarsh/two.mov'],
    [9, 'Saltmarsh/one.mov'],
    [8, '../Saltmarsh/two.mov'],
  ];
  writeFileSync(join(ground.shelf, JOURNAL), noteOf(dead, files.slice(0, 2)));
  const done = await copyAll(ground);
  expect(done.outcomes[0]).toMatchObject({ is: 'copied', found: true });
  expect(readdirSync(folder).sort()).toEqual([...names.slice(1), 'one.mov'].sort());
  expect(onShelf(ground.shelf)).not.toContain(JOURNAL);
});

test('what a living process is at stays, and what another machine is at', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  await copyAll(ground);
  const part = join(ground.shelf, 'Saltmarsh/.0123abcd-7.part');
  writeFileSync(part, 'x');
  const began = readFileSync(`/proc/${process.pid}/stat`, 'utf8').split(') ').at(-1)?.split(' ')[19];
  const boot = readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
  for (const owner of [
    { ...dead, boot, pid: process.pid, began },
    { ...dead, machine: 'another' },
  ]) {
    writeFileSync(join(ground.shelf, JOURNAL), noteOf(owner, [[7, 'Saltmarsh/two.mov']]));
    await copyAll(ground);
    expect(onShelf(ground.shelf)).toContain('Saltmarsh/.0123abcd-7.part');
  }
});

// Where an error hid the machine's own name, the boot's id tells it (random(4): boot_id is made anew at each boot).
test('a journal without the name of its machine is known by the boot, and goes with what it names', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  await copyAll(ground);
  writeFileSync(join(ground.shelf, 'Saltmarsh/.0123abcd-7.part'), 'x');
  const boot = readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
  const owner = { machine: '', boot, pid: process.pid, began: '1' };
  writeFileSync(join(ground.shelf, JOURNAL), noteOf(owner, [[7, 'Saltmarsh/two.mov']]));
  await copyAll(ground);
  expect(onShelf(ground.shelf)).toEqual(['Saltmarsh/one.mov']);
});

test('a kill while a name is claimed without hard links: the empty file of ours goes, one with content stays', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  await copyAll(ground);
  const folder = join(ground.shelf, 'Saltmarsh');
  renameSync(join(folder, 'one.mov'), join(folder, '.0123abcd-0.held'));
  writeFileSync(join(folder, 'one.mov'), '');
  writeFileSync(join(folder, '.0123abcd-1.held'), 'x');
  writeFileSync(join(folder, 'two.mov'), 'of someone else');
  writeFileSync(
    join(ground.shelf, JOURNAL),
    noteOf(dead, [
      [0, 'Saltmarsh/one.mov'],
      [1, 'Saltmarsh/two.mov'],
    ]),
  );
  const done = await copyAll(ground);
  expect(done.outcomes[0]).toMatchObject({ is: 'copied', found: false });
  expectHonest(ground, done);
  expect(readdirSync(folder).sort()).toEqual(['one.mov', 'two.mov']);
});

test.skipIf(noBound !== null)('a shelf that hangs is given up, and costs its process alone', async () => {
  const volume = boundVolume();
  volume.mount();
  const bound = jobGround(volume.mountPoint);
  let program = 0;
  try {
    for (let at = 0; at < 40; at++) bound.add(`Saltmarsh/${at}.mov`, footage(2_000_000, at));
    program = Number(bindfsOf(volume.mountPoint));
    const port = createCopyPort({ clock: systemClock, hungAfter: 2, flushHungAfter: 2 });
    const running = copyAll(bound, port);
    await delay(400);
    process.kill(program, 'SIGSTOP');
    const done = await running;
    expect(done.end).toMatchObject({ ended: 'broken', trouble: { reason: 'no-answer' } });
    process.kill(program, 'SIGCONT');
    const after = await copyAll(bound);
    expect(copied(after)).toBe(bound.items.length);
    // A program may keep what it reads: it is not called a drive.
    for (const one of after.outcomes) expect(one).toMatchObject({ grade: 'reported' });
    expectHonest(bound, after);
  } finally {
    if (program > 0) process.kill(program, 'SIGCONT');
    volume.remove();
    bound.remove();
  }
});

/** The number of the program behind a mount. */
function bindfsOf(mountPoint: string): string {
  for (const pid of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
    try {
      const words = readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0');
      if (words[0]?.endsWith('bindfs') === true && words.includes(mountPoint)) return pid;
    } catch {
      // It ended meanwhile.
    }
  }
  throw new Error('bindfs is not there');
}

test.skipIf(noExfat !== null)(
  'exFAT: no hard links, no modes; what it cannot keep or would merge is refused',
  async () => {
    const volume = exfatVolume();
    volume.mount();
    const small = jobGround(volume.mountPoint);
    try {
      for (const [seed, name] of ['A001.mov', 'a001.MOV', 'take?.mov', 'end.', 'sub/con.mov', 'large.mov'].entries())
        small.add(name, footage(name === 'large.mov' ? 5_000_000 : 5000, seed));
      small.add(Buffer.from([0x41, 0xff]), footage(100, 1));
      const done = await copyAll(small);
      const reasons = done.outcomes.map((one) => (one.is === 'failed' ? one.trouble.reason : one.is));
      expect(reasons).toEqual([
        ...['copied', 'name-refused', 'name-refused', 'name-refused', 'name-refused', 'copied', 'name-refused'],
      ]);
      expect(readFileSync(join(volume.mountPoint, 'A001.mov')).equals(footage(5000, 0))).toBe(true);
      expect(onShelf(volume.mountPoint)).toEqual(['A001.mov', 'large.mov']);
      // The other of the two in a job of its own: still no merging.
      const twin = small.items[1];
      const later = await copyAll(small, undefined, twin === undefined ? [] : [twin]);
      expect(later.outcomes[0]).toMatchObject({ is: 'failed' });
      expect(onShelf(volume.mountPoint)).toEqual(['A001.mov', 'large.mov']);
    } finally {
      volume.remove();
      small.remove();
    }
  },
);
