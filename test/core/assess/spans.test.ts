import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { spansOf } from '../../../src/core/assess/spans.ts';
import type { Clip, ClipFacts } from '../../../src/core/model.ts';
import { sampleClip } from '../samples.ts';

const DAY = 86_400;
const MARCH_4 = 1_804_118_400; // 2027-03-04T00:00:00Z

function recorded(startTimecode: string | null, recordedAt: string | null, facts: Partial<ClipFacts> = {}): Clip {
  return sampleClip({}, { startTimecode, recordedAt, recordedAtBasis: 'container', ...facts });
}

function startsOf(...clips: Clip[]): number[] {
  return spansOf(clips).map((span) => span.startSeconds);
}

describe('clock of a span', () => {
  test('timecode is dated by the recording day', () => {
    const [span] = spansOf([recorded('13:00:00:00', '2027-03-04T13:00:01Z')]);
    expect(span).toMatchObject({ clockBasis: 'timecode', toWallSeconds: expect.closeTo(1, 6) });
    expect(span?.startSeconds).toBeCloseTo(MARCH_4 + 13 * 3600, 6);
    expect(span?.endSeconds).toBeCloseTo(MARCH_4 + 13 * 3600 + 10, 6);
  });

  test('midnight and a zone apart from the timecode keep clips of one moment together', () => {
    // Local evening at UTC-5: the recording times lie on both sides of midnight UTC, the timecodes 15 s apart.
    const [one = 0, other = 0] = startsOf(
      recorded('18:59:50:00', '2027-03-04T23:59:50Z'),
      recorded('19:00:05:00', '2027-03-05T00:00:05Z'),
    );
    expect(other - one).toBeCloseTo(15, 6);
  });

  test('so do zones twelve hours apart', () => {
    const [one = 0, other = 0, next = 0] = startsOf(
      recorded('13:00:00:00', '2027-03-04T00:59:58Z'),
      recorded('13:00:10:00', '2027-03-04T01:00:12Z'),
      recorded('13:00:00:00', '2027-03-05T01:00:00Z'),
    );
    expect(other - one).toBeCloseTo(10, 6);
    expect(next - one).toBeCloseTo(DAY, 6);
  });

  test('clips that run past midnight by their timecode stay in order', () => {
    const [one = 0, other = 0] = startsOf(
      recorded('23:59:50:00', '2027-03-04T23:59:50Z'),
      recorded('00:00:20:00', '2027-03-05T00:00:20Z'),
    );
    expect(other - one).toBeCloseTo(30, 6);
  });

  test('in any zone, with recording times that are two hours apart, spans lie as the takes did', () => {
    const take = fc.record({
      local: fc.integer({ min: 1, max: 4 * DAY }).filter((seconds) => seconds % DAY !== 0),
      jitter: fc.integer({ min: -3600, max: 3600 }),
    });
    fc.assert(
      fc.property(
        fc.array(take, { minLength: 2, maxLength: 8 }),
        fc.integer({ min: -48, max: 56 }),
        (takes, quarters) => {
          // What begins at one time of day, or just as long after as a clip lasts (10 s), is what a counter shows that stops between takes.
          const apart = (one: number, other: number) => Math.abs(((other - one + 4.5 * DAY) % DAY) - DAY / 2);
          fc.pre(!takes.some((one, at) => takes.slice(at + 1).some((other) => apart(one.local, other.local) < 20)));
          const clips = takes.map(({ local, jitter }) => {
            const utc = MARCH_4 + local - quarters * 900 + jitter;
            return recorded(labelOf(local % DAY), new Date(utc * 1000).toISOString());
          });
          const [first = 0, ...others] = startsOf(...clips);
          others.forEach((start, index) => {
            expect(start - first).toBeCloseTo((takes[index + 1]?.local ?? 0) - (takes[0]?.local ?? 0), 6);
          });
        },
      ),
    );
  });

  test('a date alone dates the timecode, and is no time by itself', () => {
    expect(startsOf(recorded('13:00:00:00', '2027-03-04'))[0]).toBeCloseTo(MARCH_4 + 13 * 3600, 6);
    expect(spansOf([recorded(null, '2027-03-04')])).toEqual([]);
  });

  test('a timecode without a date has a clock of its own', () => {
    expect(spansOf([recorded('01:00:00:00', null)])).toMatchObject([
      { clockBasis: 'timecode-undated', startSeconds: 3600, toWallSeconds: null },
    ]);
  });

  test.each([
    ['no timecode', null, {}],
    ['a counter that was never set', '00:00:00:00', {}],
    ['a timecode that is none', '25:61:00:99', {}],
    ['no frame rate to count by', '13:00:00:00', { frameRate: null }],
  ])('with %s the recording time counts', (_, timecode, facts) => {
    expect(spansOf([recorded(timecode, '2027-03-04T14:00:00+01:00', facts)])).toMatchObject([
      { clockBasis: 'recorded-at', startSeconds: MARCH_4 + 13 * 3600, toWallSeconds: 0 },
    ]);
  });

  test('a recording time of no known zone is compared with its like alone', () => {
    expect(spansOf([recorded(null, '2027-03-04T13:00:00')])).toMatchObject([
      { clockBasis: 'recorded-at-local', toWallSeconds: null },
    ]);
    expect(spansOf([recorded('13:00:00:00', '2027-03-04T13:00:00')])).toMatchObject([
      { clockBasis: 'timecode', toWallSeconds: null },
    ]);
  });

  test("the file's own time is never trusted, nor is a text that is no time", () => {
    expect(spansOf([recorded(null, '2027-03-04T13:00:00Z', { recordedAtBasis: 'file-time' })])).toEqual([]);
    expect(spansOf([recorded(null, 'yesterday')])).toEqual([]);
    expect(spansOf([recorded('13:00:00:00', '2027-03-04T13:00:00Z', { recordedAtBasis: 'file-time' })])).toMatchObject([
      { clockBasis: 'timecode-undated' },
    ]);
  });
});

describe('what counts as an angle', () => {
  const at = {
    startTimecode: '13:00:00:00',
    recordedAt: '2027-03-04T13:00:00Z',
    recordedAtBasis: 'container',
  } as const;

  test.each([
    ['sound', sampleClip({ kind: 'sound' }, { ...at, width: null })],
    ['a proxy', sampleClip({ kind: 'proxy' }, at)],
    ['a clip without picture', sampleClip({}, { ...at, width: null })],
    ['a clip of unknown length', sampleClip({}, { ...at, durationSeconds: null })],
  ])('not %s', (_, clip) => expect(spansOf([clip])).toEqual([]));

  test('an original with picture, with what playing it reads', () => {
    const clip = sampleClip({ essenceBytes: 9e8, bytes: 1e9 }, { ...at, reel: 'A001' });
    expect(spansOf([clip])).toMatchObject([
      { unit: clip.unit, camera: 'A', cameraConfidence: 0.9, reel: 'A001', rateBps: 9e7, sdBps: 0 },
    ]);
  });

  test('the spread is that between clips of one format, by duration', () => {
    const clips = [
      sampleClip({ essenceBytes: 8e8 }, at),
      sampleClip({ essenceBytes: 12e8 }, at),
      sampleClip({ essenceBytes: 5e9 }, { ...at, codec: 'DPX' }),
    ];
    expect(spansOf(clips).map((span) => span.sdBps)).toEqual([20e6, 20e6, 0]);
  });
});

/** `HH:MM:SS:00` of a second of the day. */
function labelOf(seconds: number): string {
  const parts = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60, 0];
  return parts.map((part) => String(part).padStart(2, '0')).join(':');
}
