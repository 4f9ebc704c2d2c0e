import fc from 'fast-check';
import { expect, test } from 'vitest';
import { duePoll, mustBePolled } from '../../../src/rim/watch/polling.ts';

const mount = (fileSystem: string, remote: boolean) => ({
  mount: { id: 1, mountPoint: '/', fileSystem, source: '', remote },
});

test.each([
  ['ext4', false, false],
  ['btrfs', false, false],
  ['exfat', false, true],
  ['vfat', false, true],
  ['fuseblk', false, true],
  ['nfs4', true, true],
  ['fuse.sshfs', true, true],
])('%s', (fileSystem, remote, polled) => {
  expect(mustBePolled(mount(fileSystem, remote))).toBe(polled);
});

test('where there is no table of mounts, events count', () => expect(mustBePolled({ mount: null })).toBe(false));

test.each([
  ['a small share, five seconds later', 5, { walked: { at: 0, took: 0.01 }, passed: null }, 'walk'],
  ['not before', 4.9, { walked: { at: 0, took: 0.01 }, passed: null }, null],
  [
    'a walk of a second comes every 200; until then what changed lately',
    5,
    { walked: { at: 0, took: 1 }, passed: null },
    'pass',
  ],
  ['passes of 0.1 s come every 20', 24, { walked: { at: 0, took: 1 }, passed: { at: 5, took: 0.1 } }, null],
  ['and then', 25, { walked: { at: 0, took: 1 }, passed: { at: 5, took: 0.1 } }, 'pass'],
  ['the walk when its time has come', 200, { walked: { at: 0, took: 1 }, passed: { at: 190, took: 0.1 } }, 'walk'],
] as const)('%s', (_, now, polled, due) => {
  expect(duePoll(now, polled)).toBe(due);
});

test('whatever walks and passes take, they take 1 % of the time at most', () => {
  const took = fc.double({ min: 0.0001, max: 20, noNaN: true });
  fc.assert(
    fc.property(took, took, (walkTook, passTook) => {
      const spent = { walk: 0, pass: 0 };
      let [walkedAt, passedAt] = [0, 0];
      let everPassed = false;
      const hours = 5 * 3600;
      for (let now = 0; now < hours; now += 1) {
        const passed = everPassed ? { at: passedAt, took: passTook } : null;
        const due = duePoll(now, { walked: { at: walkedAt, took: walkTook }, passed });
        if (due === null) continue;
        spent[due] += due === 'walk' ? walkTook : passTook;
        if (due === 'walk') walkedAt = now + walkTook;
        else [passedAt, everPassed] = [now + passTook, true];
      }
      // One of each may fall at the very end, and nobody knows beforehand what the first pass takes.
      expect(spent.walk - walkTook).toBeLessThanOrEqual(hours * 0.005);
      expect(spent.pass - 2 * passTook).toBeLessThanOrEqual(hours * 0.005);
    }),
    { numRuns: 20 },
  );
});
