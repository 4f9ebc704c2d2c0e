import { describe, expect, test } from 'vitest';
import { healthAnswer, type LoopMark, loopsHealth, readinessAnswer } from '../../src/core/health.ts';
import { NOON, SECOND } from './samples.ts';

const MOMENT = { ticks: 1_000_000, now: NOON };

function mark(over: Partial<LoopMark> = {}): LoopMark {
  return {
    ...{ loop: 'assessment', of: null, movedAt: MOMENT.ticks - 5 * SECOND, patienceMs: 10 * SECOND },
    ...{ waiting: null, isOutside: false, ...over },
  };
}

const answerTo = (...marks: LoopMark[]) => healthAnswer(loopsHealth(marks, MOMENT), NOON, 'UTC');

describe('health', () => {
  test('a loop within its patience is well, to the millisecond; one beyond it is told, with since when', () => {
    const late = MOMENT.ticks - 10 * SECOND;
    expect(answerTo(mark(), mark({ movedAt: late }))).toEqual({
      ...{ status: 200, type: 'text/plain; charset=utf-8', body: 'ok\n' },
    });
    expect(answerTo(mark(), mark({ movedAt: late - 1 }))).toEqual({
      ...{ status: 503, type: 'text/plain; charset=utf-8' },
      body: 'assessment: stands still since 2027-03-04T11:59:49.999+00:00, 10 s (it moves at least every 10 s while it is well). Start headroomd again; nothing is lost by that.\n',
    });
  });

  test('all that stand still are told, each in a line; what is outside is told as such', () => {
    const still = { movedAt: 0 };
    const { status, body } = answerTo(
      mark({ ...still, loop: 'volume-process', of: 'stripe', isOutside: true }),
      mark({ loop: 'drive-load' }),
      mark({ ...still, loop: 'intake', of: 'a\u001bb' }),
    );
    expect(status).toBe(503);
    const lines = body.trimEnd().split('\n');
    expect(lines).toHaveLength(2);
    expect(lines[0]).toMatch(/^volume-process of stripe: stands still .* check drive, cable, network and server\.$/);
    expect(lines[1]).toMatch(/^intake of a\\x1bb: .* Start headroomd again/);
  });

  test('who has nothing to do may rest for ever; who has must move', () => {
    expect(answerTo(mark({ waiting: 0, movedAt: 0 })).status).toBe(200);
    expect(answerTo(mark({ waiting: 1, movedAt: 0 })).status).toBe(503);
    expect(answerTo(mark({ waiting: 3 })).status).toBe(200);
  });

  test('the value by itself: when it moved by the wall clock, whatever that did meanwhile', () => {
    expect(loopsHealth([mark({ movedAt: MOMENT.ticks - 12 * SECOND })], MOMENT)).toEqual([
      {
        ...{ loop: 'assessment', of: null, waiting: null, isOutside: false },
        ...{ movedAt: NOON - 12 * SECOND, patienceSeconds: 10, standsStill: true },
      },
    ]);
    // A mark from a moment ago, taken after the ticks were asked for.
    expect(loopsHealth([mark({ movedAt: MOMENT.ticks + 1 })], MOMENT)[0]?.movedAt).toBe(NOON);
  });
});

describe('readiness', () => {
  test('is there when nothing is starting any more, be it live, away or hung', () => {
    expect(
      readinessAnswer([
        { name: 'stripe', state: 'live' },
        { name: 'second', state: 'absent' },
        { name: 'th\nird', state: 'hung' },
      ]),
    ).toEqual({
      ...{ status: 200, type: 'text/plain; charset=utf-8' },
      body: 'ready\nstripe: live\nsecond: unknown\nth\\nird: hung\n',
    });
  });

  test('else it names those that are starting', () => {
    expect(
      readinessAnswer([
        { name: 'stripe', state: 'live' },
        { name: 'second', state: 'starting' },
      ]),
    ).toEqual({
      ...{ status: 503, type: 'text/plain; charset=utf-8' },
      body: 'not ready: folders are being read\nsecond: starting\n',
    });
  });
});
