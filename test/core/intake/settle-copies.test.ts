import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Wholeness } from '../../../src/core/root-port.ts';
import { runs } from '../../effort.ts';
import { type Deed, type FakeFile, play, type Stage } from './copy-play.ts';
import { LIMITS } from './settle-walk.ts';

const SECOND = 1;
const MINUTE = 60 * SECOND;

const CHUNK = 1_000_000;
const TOTAL = 12 * CHUNK;
/** Twelve chunks with pauses from 0.2 s to 10 s: longer and shorter than every quiet time. */
const PAUSES = [0.2, 0.5, 3, 0.2, 10, 1, 0.3, 5, 0.2, 8, 0.4];
const STEADY = PAUSES.map(() => 0.4);

interface Copying {
  pauses: readonly number[];
  /** From the last write to the close. */
  closeLag: number;
}

const create = (file: FakeFile) => Object.assign(file, { exists: true, open: true, changes: 1 });
const close = (file: FakeFile) => Object.assign(file, { open: false });
const reserve = (file: FakeFile) => Object.assign(file, { size: TOTAL, allocated: TOTAL, changes: file.changes + 1 });
const append = (file: FakeFile) => {
  const written = file.written + CHUNK;
  Object.assign(file, {
    written,
    size: Math.max(file.size, written),
    allocated: Math.max(file.size, written),
    changes: file.changes + 1,
  });
};
/** Through mapped memory: the content changes, the times follow when the kernel writes back, no event comes. */
const mapped = (file: FakeFile) => Object.assign(file, { written: file.written + CHUNK });
const writtenBack = (file: FakeFile) => Object.assign(file, { changes: file.changes + 1 });

const indexLast = (file: FakeFile): Wholeness =>
  file.size === 0 ? 'empty' : file.written === 0 ? 'unwritten' : file.written < TOTAL ? 'cut' : 'whole';
/** The index lies in the first chunk and fits the reserved size: whole from then on, as far as anyone can read. */
const indexFirst = (file: FakeFile): Wholeness => (file.written === 0 ? 'unwritten' : 'whole');

/** The chunks of a copy, written by `write`; the last entry's time is that of the last write. */
function chunks({ pauses }: Copying, write: (file: FakeFile) => void, silent = false): Deed[] {
  let at = 0.1;
  return [0, ...pauses].map((pause) => {
    at += pause;
    return { at, run: write, silent };
  });
}

const lastOf = (deeds: readonly Deed[]) => Math.max(...deeds.map(({ at }) => at));

/** Ways in which programs copy (each steady and in bursts); with the moment when the copy is truly complete. */
const BEHAVIOURS = {
  steady: (copy: Copying) => local(copy, [{ at: 0, run: create }], append, indexLast),
  'preallocated, index last': (copy: Copying) =>
    local(
      copy,
      [
        { at: 0, run: create },
        { at: 0.05, run: reserve },
      ],
      append,
      indexLast,
    ),
  'preallocated, index first': (copy: Copying) =>
    local(
      copy,
      [
        { at: 0, run: create },
        { at: 0.05, run: reserve },
      ],
      append,
      indexFirst,
    ),
  'temporary name, then renamed': (copy: Copying) => {
    const rename = (file: FakeFile) => Object.assign(file, { path: 'Day 1/A001.mov', changes: file.changes + 1 });
    const stage = local(copy, [{ at: 0, run: create }], append, indexLast);
    const end = stage.end + 0.01;
    return {
      ...stage,
      path: 'Day 1/.A001.mov.x7Qp2a',
      deeds: [...stage.deeds, { at: end, run: rename, silent: true }],
      end,
    };
  },
  'opened anew for every chunk': (copy: Copying) => {
    const writes = chunks(copy, (file) => append(Object.assign(file, { exists: true, open: true })));
    const closes = writes.map(({ at }) => ({ at: at + 0.05, run: close, silent: true }));
    return { path: 'Day 1/A001.mov', deeds: [...writes, ...closes], wholeness: indexLast, end: lastOf(closes) };
  },
  'mapped memory': (copy: Copying) => {
    const writes = chunks(copy, mapped, true);
    const flushes = writes.map(({ at }) => ({ at: at + 0.1, run: writtenBack, silent: true }));
    const end = lastOf(flushes) + copy.closeLag;
    const deeds = [
      { at: 0, run: create },
      { at: 0.05, run: reserve },
      ...writes,
      ...flushes,
      { at: end, run: close, silent: true },
    ];
    return { path: 'Day 1/A001.mov', deeds, wholeness: indexLast, end };
  },
  remote: (copy: Copying) => ({ ...local(copy, [{ at: 0, run: create }], append, indexLast), remote: true }),
  'remote, preallocated': (copy: Copying) => ({
    ...local(
      copy,
      [
        { at: 0, run: create },
        { at: 0.05, run: reserve },
      ],
      append,
      indexLast,
    ),
    remote: true,
  }),
} satisfies Record<string, (copy: Copying) => Omit<Stage, 'limits' | 'until'> & { end: number }>;

function local(copy: Copying, before: Deed[], write: (file: FakeFile) => void, wholeness: Stage['wholeness']) {
  const writes = chunks(copy, write);
  const end = lastOf(writes) + copy.closeLag;
  return {
    path: 'Day 1/A001.mov',
    deeds: [...before, ...writes, { at: end, run: close, silent: true }],
    wholeness,
    end,
  };
}

function latencyOf(stage: Omit<Stage, 'limits' | 'until'> & { end: number }): number {
  const { complete, state } = play({ ...stage, limits: LIMITS, until: stage.end + 2 * MINUTE });
  expect(complete).toHaveLength(1);
  expect(state.phase).toBe('ready');
  const latency = (complete[0] ?? Number.NEGATIVE_INFINITY) - stage.end;
  expect(latency).toBeGreaterThanOrEqual(0);
  return latency;
}

describe('a copy is complete once, never early, and soon after its end', () => {
  const bursty = { pauses: PAUSES, closeLag: 0.01 };
  const local = Object.entries(BEHAVIOURS).filter(
    ([name]) => !name.startsWith('remote') && !name.startsWith('temporary'),
  );

  test.each(local)('%s', (_name, make) => {
    expect(latencyOf(make({ pauses: STEADY, closeLag: 0.01 }))).toBeLessThan(0.8 * SECOND);
    expect(latencyOf(make(bursty))).toBeLessThan(0.8 * SECOND);
    expect(latencyOf(make({ ...bursty, closeLag: 7 }))).toBeLessThan(0.5 * SECOND);
  });

  test.each(Object.entries(BEHAVIOURS).filter(([name]) => name.startsWith('remote')))(
    '%s: as long as the limits say',
    (_name, make) => {
      // Read every 5 s, then quiet for twice the longest pause (10 s, seen as up to 15 s), at most 30 s.
      expect(latencyOf(make(bursty))).toBeLessThan(36 * SECOND);
      expect(latencyOf(make({ pauses: STEADY, closeLag: 0.01 }))).toBeLessThan(16 * SECOND);
    },
  );

  test('local copies at random: median 0.5 s, 99 of 100 within 1 s', () => {
    const pause = fc.double({ min: 0.05, max: 12, noNaN: true });
    const copy = fc.record({
      pauses: fc.array(pause, { minLength: 11, maxLength: 11 }),
      closeLag: fc.double({ min: 0, max: 15, noNaN: true }),
    });
    const latencies: number[] = [];
    fc.assert(
      fc.property(copy, fc.constantFrom(...local), (given, [, make]) => {
        latencies.push(latencyOf(make(given)));
      }),
      { numRuns: runs(400) },
    );
    const sorted = latencies.toSorted((a, b) => a - b);
    expect(sorted[Math.floor(sorted.length * 0.5)]).toBeLessThan(0.5 * SECOND);
    expect(sorted[Math.floor(sorted.length * 0.99)]).toBeLessThan(1 * SECOND);
  });
});

describe('a temporary name', () => {
  test('is held while it lasts; the renamed file is complete soon after', () => {
    const stage = BEHAVIOURS['temporary name, then renamed']({ pauses: PAUSES, closeLag: 0.01 });
    const held = play({ ...stage, limits: LIMITS, until: stage.end });
    expect(held.actions).toEqual([]);
    expect(held.state.reason).toBe('waits-for-rename');
    // The new name is a unit of its own, whole and without a writer from its first moment.
    const appear = (file: FakeFile) => {
      Object.assign(file, { exists: true, written: TOTAL, size: TOTAL, allocated: TOTAL, changes: 20 });
    };
    expect(
      latencyOf({ path: 'Day 1/A001.mov', deeds: [{ at: 0, run: appear }], wholeness: indexLast, end: 0 }),
    ).toBeLessThan(0.4 * SECOND);
  });
});

describe('copies that end badly', () => {
  const broken = (wholeness: Wholeness, path = 'A001.mov'): Stage => ({
    path,
    deeds: [
      { at: 0, run: create },
      { at: 1, run: append },
      { at: 2, run: close, silent: true },
    ],
    wholeness: () => wholeness,
    limits: LIMITS,
    until: 20 * MINUTE,
  });

  test('cut, with nobody writing: stalled after ten minutes, told once, still listed', () => {
    const { actions, state } = play(broken('cut'));
    const stalls = actions.filter(({ action }) => action.do === 'stall');
    expect(stalls.map(({ at }) => Math.round(at / MINUTE))).toEqual([10]);
    expect([state.phase, state.reason]).toEqual(['stalled', 'incomplete']);
  });

  test('looks get rare for what was broken off', () => {
    // Every 0.4 s for ten minutes would be 1,500.
    expect(play(broken('cut')).looks).toBeLessThan(250);
  });

  test('empty: refused after half a minute', () => {
    const { actions } = play({
      ...broken('empty'),
      deeds: [
        { at: 0, run: create },
        { at: 1, run: close, silent: true },
      ],
    });
    const refused = actions.find(({ action }) => action.do === 'refuse');
    expect(refused?.action).toMatchObject({ reason: 'empty' });
    expect(refused?.at).toBeGreaterThan(30 * SECOND);
    expect(refused?.at).toBeLessThan(31 * SECOND);
  });

  test('no media inside: refused at once', () => {
    const { actions } = play(broken('not-media'));
    const refused = actions.find(({ action }) => action.do === 'refuse');
    expect(refused?.action).toMatchObject({ reason: 'not-media' });
    expect(refused?.at).toBeLessThan(2.5 * SECOND);
  });

  test('a stalled copy that goes on is taken up again and finished', () => {
    const stage = broken('cut');
    const finish = (file: FakeFile) =>
      Object.assign(file, { written: TOTAL, size: TOTAL, allocated: TOTAL, changes: 9 });
    const { complete, state } = play({
      ...stage,
      wholeness: indexLast,
      deeds: [...stage.deeds, { at: 15 * MINUTE, run: finish }],
    });
    expect(complete.map((at) => Math.round(at / MINUTE))).toEqual([15]);
    expect(state.phase).toBe('ready');
  });
});
