import { describe, expect, test } from 'vitest';
import {
  backupProgress,
  type Moment,
  measureProgress,
  noteMoment,
  paceWords,
  rateOf,
} from '../../../src/core/present/progress-words.ts';

/** Looked at each second, while so many bytes came in each. */
function watched(seconds: number, bytesPerSecond: number, from: Moment[] = []): Moment[] {
  const start = from.at(-1) ?? { ticks: 0, bytes: 0 };
  let moments = from;
  for (let second = 0; second <= seconds; second += 1) {
    moments = noteMoment(moments, {
      ticks: start.ticks + second * 1000,
      bytes: start.bytes + second * bytesPerSecond,
    });
  }
  return moments;
}

describe('a rate', () => {
  test('is told after three seconds, and follows what was done in the last half minute', () => {
    expect(rateOf(watched(2, 1e8))).toBeNull();
    expect(rateOf(watched(3, 1e8))).toBe(1e8);
    const slower = watched(60, 1e7, watched(60, 1e8));
    expect(rateOf(slower)).toBe(1e7);
    expect(slower.length).toBeLessThan(35);
    // Another work began.
    expect(noteMoment(slower, { ticks: 200_000, bytes: 5 })).toEqual([{ ticks: 200_000, bytes: 5 }]);
  });

  test('says how long it takes from now on, and nothing of an end that nothing moves towards', () => {
    expect(paceWords(watched(10, 1e8), 3e10)).toBe(', 100 MB/s, about 5 min 00 s left');
    expect(paceWords(watched(10, 0), 3e10)).toBe(', 0 MB/s');
    expect(paceWords(watched(2, 1e8), 3e10)).toBe('');
    expect(paceWords(watched(10, 1e8), 0)).toBe(', 100 MB/s');
  });
});

test('a measurement tells its step, and how long all of it takes at the most', () => {
  const plan = { bytes: 3e9, streams: [1, 4, 9], seconds: 30 };
  const told = (doing: 'writing' | 'reading' | 'streams', streams: number, bytes: number, bps: number) =>
    measureProgress({ doing, streams, bytes, bps }, plan);
  // 20 s of the bytes; then reading, and three passes of 10 s.
  expect(told('writing', 1, 1e9, 1e8)).toBe('step 1 of 5, writing: 33 %, 100 MB/s, at most 1 min 20 s left');
  // 10 s are over: of 30 s there are 20 left, whatever the bytes take.
  expect(told('writing', 1, 1e8, 1e7)).toBe('step 1 of 5, writing: 3 %, 10.0 MB/s, at most 1 min 20 s left');
  expect(told('reading', 1, 3e9, 3e8)).toBe('step 2 of 5, reading: 100 %, 300 MB/s, at most 30 s left');
  expect(told('streams', 1, 1e9, 5e8)).toBe('step 3 of 5, reading with one stream: 33 %, 500 MB/s, at most 24 s left');
  expect(told('streams', 9, 0, 0)).toBe('step 5 of 5, reading with 9 streams: 0 %, 0 MB/s, at most 10 s left');
});

test('a backup tells how much of writing and reading back is done', () => {
  const run = { state: 'copying', files: 3, wantedFiles: 10, wantedBytes: 1e10, movedBytes: 5e9 };
  expect(backupProgress(run, watched(10, 1e8))).toBe(
    '3 of 10 files, 10.0 GB, 25 % of writing and reading back, 100 MB/s, about 2 min 30 s left',
  );
  expect(backupProgress({ ...run, state: 'paused' }, watched(10, 0))).toBe(
    '3 of 10 files, 10.0 GB, 25 % of writing and reading back; it waits, for playback goes first',
  );
  expect(backupProgress({ ...run, wantedFiles: 1, files: 0, wantedBytes: 0, movedBytes: 0 }, [])).toBe(
    '0 of 1 file, 0 B',
  );
  expect(backupProgress({ ...run, wantedFiles: null, wantedBytes: null }, [])).toBe('the shelf is looked at');
  expect(backupProgress({ ...run, state: 're-reading' }, [])).toBe('all is copied; older copies are read again');
});
