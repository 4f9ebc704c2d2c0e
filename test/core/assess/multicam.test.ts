import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { findMulticam } from '../../../src/core/assess/multicam.ts';
import { type ClipSpan, spansOf } from '../../../src/core/assess/spans.ts';
import { groupLoad } from '../../../src/core/assess/stream-load.ts';
import { runs } from '../../effort.ts';
import { NOON, sampleClip } from '../samples.ts';

function span(camera: string | null, startSeconds: number, endSeconds: number, over: Partial<ClipSpan> = {}): ClipSpan {
  return {
    unit: `${camera}-${startSeconds}`,
    path: `${camera}-${startSeconds}`,
    readyAt: NOON,
    camera,
    cameraConfidence: 0.9,
    reel: null,
    startSeconds,
    endSeconds,
    timeline: 'shared',
    clockBasis: 'timecode',
    setBackSeconds: 0,
    toWallSeconds: NOON / 1000,
    startTimecode: null,
    frameRate: { num: 25, den: 1 },
    rateBps: 100e6,
    sdBps: 0,
    ...over,
  };
}

describe('multicam groups', () => {
  test('are stretches of time with two cameras or more', () => {
    const groups = findMulticam([
      span('A', 0, 60),
      span('B', 10, 50),
      span('C', 20, 40),
      span('A', 100, 160),
      span('B', 200, 260),
    ]);
    expect(groups).toHaveLength(1);
    expect(groups[0]).toMatchObject({
      startsAt: NOON + 10_000,
      endsAt: NOON + 50_000,
      angles: 3,
      cameras: ['A', 'B', 'C'],
      demandBps: 300e6,
      peakBps: 300e6,
      largestBps: 100e6,
    });
  });

  test('go on while a camera hands over to its next clip', () => {
    expect(findMulticam([span('A', 0, 30), span('A', 30, 60), span('B', 0, 60)])).toMatchObject([
      { startsAt: NOON, endsAt: NOON + 60_000, angles: 2 },
    ]);
  });

  test('do not come from clips that only meet', () => {
    expect(findMulticam([span('A', 0, 30), span('B', 30, 60)])).toEqual([]);
  });

  test('need two seconds, or half of the shorter clip', () => {
    expect(findMulticam([span('A', 0, 30), span('B', 28.1, 60)])).toEqual([]);
    expect(findMulticam([span('A', 0, 30), span('B', 28, 60)])).toHaveLength(1);
    expect(findMulticam([span('A', 0, 30), span('B', 10, 11)])).toHaveLength(1);
  });

  test('count cameras, not clips, and play the heaviest clip of each', () => {
    const groups = findMulticam([span('A', 0, 60), span('A', 0, 60, { rateBps: 150e6 }), span('B', 0, 60)]);
    expect(groups).toMatchObject([{ angles: 2, demandBps: 250e6, largestBps: 150e6 }]);
    expect(findMulticam([span('A', 0, 60), span('A', 0, 60)])).toEqual([]);
    expect(findMulticam([span('A', 0, 60), span(null, 0, 60)])).toEqual([]);
  });

  test('state the load of the heaviest moment and the angles of the fullest', () => {
    const heavy = { rateBps: 400e6, sdBps: 40e6 };
    const groups = findMulticam([span('A', 0, 60), span('B', 0, 30), span('C', 0, 30), span('D', 30, 60, heavy)]);
    expect(groups).toMatchObject([{ angles: 3, cameras: ['A', 'B', 'C'], demandBps: 500e6 }]);
    expect(groups[0]?.peakBps).toBeCloseTo(500e6 + 2.33 * 40e6, 0);
  });

  test('never mix timelines', () => {
    expect(findMulticam([span('A', 0, 60), span('B', 0, 60, { timeline: 'local' })])).toEqual([]);
  });

  test('say what was read of the time where cameras differ, and which clock was set', () => {
    const recorded = { clockBasis: 'recorded-at' } as const;
    const [mixed] = findMulticam([span('A', 0, 60), span('B', 0, 60, { ...recorded, setBackSeconds: 252 })]);
    expect(mixed?.evidence).toBe(
      'same time, by timecode and recording times, on cameras A, B at 25 fps; clock of camera B set 4 min 12 s back',
    );
    expect(mixed?.confidence).toBeCloseTo(0.8 * 0.9 * 0.9, 9);
    const file = { clockBasis: 'file-time', setBackSeconds: -25 } as const;
    const [written] = findMulticam([span('A', 0, 60, recorded), span('B', 0, 60, file)]);
    expect(written?.evidence).toBe(
      'same time, by recording times, on cameras A, B at 25 fps; clock of camera B set 25 s forward; angles guessed',
    );
  });

  test('name the clips of the heaviest moment, and when the newest of all was ready', () => {
    const [group] = findMulticam([span('A', 0, 60), span('B', 0, 60, { readyAt: NOON + 5, sdBps: 1e6 })]);
    expect(group?.members).toEqual([
      { camera: 'A', unit: 'A-0', path: 'A-0', bps: 100e6, proxy: null },
      { camera: 'B', unit: 'B-0', path: 'B-0', bps: 100e6, proxy: null },
    ]);
    expect(group?.readyAt).toBe(NOON + 5);
  });

  test('say on what they rest', () => {
    const [group] = findMulticam([span('A', 0, 60, { reel: 'A001' }), span('B', 0, 60, { reel: 'B001' })]);
    expect(group?.evidence).toBe('same timecode on reels A001, B001 at 25 fps');
    expect(group?.confidence).toBeCloseTo(0.855, 6);
    expect(group?.frameRates).toEqual([{ num: 25, den: 1 }]);
    expect(group?.cameraRates).toEqual([]);
  });

  test('say that angles are guessed, rates are mixed and the wall clock is not known', () => {
    const [group] = findMulticam([
      span('wide', 0, 60, { cameraConfidence: 0.4, toWallSeconds: null }),
      span('close', 5, 60, { toWallSeconds: null, frameRate: { num: 30_000, den: 1001 } }),
    ]);
    expect(group?.evidence).toBe('same timecode on cameras close, wide at 25 and 29.97 fps; angles guessed');
    expect(group).toMatchObject({ startsAt: null, endsAt: null });
    expect(group?.confidence).toBeLessThan(0.6);
    expect(group?.cameraRates).toEqual([
      { camera: 'close', frameRate: { num: 30_000, den: 1001 } },
      { camera: 'wide', frameRate: { num: 25, den: 1 } },
    ]);
  });

  test('are found from clips: five cameras of a concert, jam-synced', () => {
    const clips = ['A', 'B', 'C', 'D', 'E'].map((letter, index) =>
      sampleClip(
        { unit: letter, paths: [`Tidewater Sessions/${letter}001.mov`] },
        {
          reel: `${letter}001`,
          durationSeconds: 600,
          startTimecode: `20:00:0${index}:00`,
          recordedAt: `2027-03-04T19:00:0${index}Z`,
          recordedAtBasis: 'container',
        },
      ),
    );
    expect(findMulticam(spansOf(clips))).toMatchObject([{ angles: 5, startsAt: NOON + 7 * 3_600_000 + 1000 }]);
  });
});

describe('against brute force', () => {
  const randomSpan = fc
    .record({
      camera: fc.constantFrom('A', 'B', 'C', 'D', null),
      start: fc.integer({ min: 0, max: 40 }),
      length: fc.integer({ min: 0, max: 12 }),
      rateBps: fc.integer({ min: 1, max: 400 }).map((mega) => mega * 1e6),
    })
    // Whole steps of two seconds: every overlap is then long enough to count.
    .map(({ camera, start, length, rateBps }) =>
      span(camera, start * 2, (start + length) * 2, { rateBps, sdBps: rateBps / 8, toWallSeconds: 0 }),
    );

  test('the same stretches, cameras and peaks as looking at every two seconds', () => {
    fc.assert(
      fc.property(fc.array(randomSpan, { maxLength: 14 }), (spans) => {
        const found = findMulticam(spans).map(({ startsAt, endsAt, angles, peakBps }) => ({
          start: (startsAt ?? Number.NaN) / 1000,
          end: (endsAt ?? Number.NaN) / 1000,
          angles,
          peakBps: Math.round(peakBps),
        }));
        expect(found).toEqual(bruteForce(spans));
      }),
      { numRuns: runs(400) },
    );
  });
});

/** Looks at every cell of two seconds separately, O(n) each. */
function bruteForce(spans: readonly ClipSpan[]) {
  const groups: { start: number; end: number; angles: number; peakBps: number }[] = [];
  for (let at = 0; at < 110; at += 2) {
    const running = spans.filter((one) => one.camera !== null && one.startSeconds <= at && at < one.endSeconds);
    const cameras = [...new Set(running.map((one) => one.camera))];
    if (cameras.length < 2) continue;
    const streams = cameras.map((camera) => {
      const [heaviest] = running
        .filter((one) => one.camera === camera)
        .sort((one, other) => other.rateBps - one.rateBps);
      return { meanBps: heaviest?.rateBps ?? 0, sdBps: heaviest?.sdBps ?? 0 };
    });
    const cell = { start: at, end: at + 2, angles: cameras.length, peakBps: Math.round(groupLoad(streams)) };
    const last = groups.at(-1);
    if (last?.end === at) {
      last.end = cell.end;
      last.angles = Math.max(last.angles, cell.angles);
      last.peakBps = Math.max(last.peakBps, cell.peakBps);
    } else {
      groups.push(cell);
    }
  }
  return groups;
}
