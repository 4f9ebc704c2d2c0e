import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { restoreAdvice, storeAdvice } from '../../../src/core/advise/advice-store.ts';
import { type AdviceState, advise, NO_ADVICE, raisedAdvisories, withSnoozes } from '../../../src/core/advise/advise.ts';
import { nextDue } from '../../../src/core/advise/next-due.ts';
import type { Rule } from '../../../src/core/advise/rules/rule.ts';
import { lifted, snoozeOf } from '../../../src/core/advise/snooze.ts';
import type { Severity } from '../../../src/core/model.ts';
import { runs } from '../../effort.ts';
import { NOON, sampleAssessment } from '../samples.ts';

/** Whole courses of things against a reference that is written by hand, and knows nothing of hysteresis, hushing or storing. */
const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const SUBJECTS = ['stripe', 'mirror'] as const;
const RANK = { notice: 1, warning: 2, critical: 3 };

type Seen = Severity | 'none' | 'held';
type Step =
  | { do: 'see'; subject: string; seen: Seen; wait: number }
  | { do: 'snooze'; subject: string; hours: number | null; wait: number }
  | { do: 'lift'; subject: string; wait: number }
  | { do: 'restart'; wait: number }
  | { do: 'wait'; wait: number };

const subject = fc.constantFrom('stripe', 'stripe', 'stripe', 'mirror');
const wait = fc.oneof(fc.integer({ min: 1, max: 12 * HOUR }), fc.integer({ min: 1, max: 40 * HOUR }), fc.constant(DAY));
const steps: fc.Arbitrary<Step[]> = fc.array(
  fc.oneof(
    { weight: 5, arbitrary: fc.record({ do: fc.constant('wait' as const), wait }) },
    {
      weight: 4,
      arbitrary: fc.record({
        do: fc.constant('see' as const),
        subject,
        seen: fc.constantFrom<Seen>('none', 'held', 'notice', 'warning', 'warning', 'critical', 'critical'),
        wait,
      }),
    },
    {
      weight: 2,
      arbitrary: fc.record({
        do: fc.constant('snooze' as const),
        subject,
        hours: fc.option(fc.integer({ min: 1, max: 100 })),
        wait,
      }),
    },
    { weight: 1, arbitrary: fc.record({ do: fc.constant('lift' as const), subject, wait }) },
    { weight: 1, arbitrary: fc.record({ do: fc.constant('restart' as const), wait }) },
  ),
  { maxLength: 60 },
);

/** The engine, with one rule that finds what it is shown. */
function engine() {
  let state: AdviceState = NO_ADVICE;
  const seen = new Map<string, Seen>();
  const rule: Rule = {
    kind: 'array-degraded',
    immediate: true,
    evaluate: () => ({
      findings: [...seen].flatMap(([name, severity]) =>
        severity === 'none' || severity === 'held'
          ? []
          : [{ kind: 'array-degraded', subject: name, severity, message: '', figures: {}, remedies: [] }],
      ),
      holds: (name) => (seen.get(name) === 'held' ? 'figure-unknown' : null),
    }),
  };
  const standing = (name: string) => raisedAdvisories(state).find((one) => one.subject === name);
  return {
    see: (name: string, what: Seen) => void seen.set(name, what),
    pass(now: number): string[] {
      const { state: next, announcements } = advise(state, sampleAssessment(), THRESHOLDS, now, [rule]);
      state = next;
      return announcements.map(({ event, advisory }) => `${event} ${advisory.subject} ${advisory.severity}`);
    },
    snooze(name: string, hours: number | null, now: number) {
      const one = standing(name);
      if (one === undefined) return;
      const asked = { until: hours === null ? null : now + hours * HOUR, reason: 'known here', by: 'anna' };
      state = withSnoozes(state, new Map([[one.id, snoozeOf(asked, one.severity, now)]]));
    },
    lift(name: string, now: number) {
      const one = standing(name);
      if (one?.snooze) state = withSnoozes(state, new Map([[one.id, lifted(one.snooze, now)]]));
    },
    restart() {
      const { state: restored, dropped } = restoreAdvice(JSON.parse(JSON.stringify(storeAdvice(state))));
      expect(dropped).toEqual([]);
      state = restored;
    },
    due: () => nextDue(state, THRESHOLDS),
    quiet: (name: string) => standing(name)?.snooze != null,
    /** Without a change: what a pass at this instant would say. */
    wouldSay: (now: number) => advise(state, sampleAssessment(), THRESHOLDS, now, [rule]).announcements.length,
  };
}

/** What a person would expect, of one subject: what was said in this standing, and who asked for quiet. */
function reference(name: string) {
  let stands: Severity | null = null;
  let said: { at: number; severity: Severity }[] = [];
  let quiet: { severity: Severity; until: number; from: number } | null = null;
  let seen: Seen = 'none';

  function speak(event: string, severity: Severity, now: number): string[] {
    said.push({ at: now, severity });
    return [`${event} ${name} ${severity}`];
  }

  return {
    see: (what: Seen) => {
      seen = what;
    },
    pass(now: number): string[] {
      if (seen === 'none') {
        const over = stands !== null && said.length > 0 ? [`cleared ${name} ${stands}`] : [];
        [stands, said, quiet] = [null, [], null];
        return over;
      }
      if (seen !== 'held') stands = seen;
      if (stands === null) return [];
      if (quiet !== null && RANK[stands] > RANK[quiet.severity]) {
        quiet = null;
        return speak(said.length === 0 ? 'first' : 'worse', stands, now);
      }
      if (quiet !== null && now < quiet.until) return [];
      const wasQuiet = quiet !== null;
      quiet = null;
      if (said.length === 0) return speak('first', stands, now);
      if (said.every(({ severity }) => RANK[severity] < RANK[stands ?? 'notice'])) return speak('worse', stands, now);
      const silent = now - Math.max(...said.map(({ at }) => at));
      return wasQuiet || (stands === 'critical' && silent >= DAY) ? speak('reminder', stands, now) : [];
    },
    snooze(hours: number | null, now: number) {
      if (stands === null) return;
      const end = hours === null ? Number.POSITIVE_INFINITY : now + hours * HOUR;
      quiet = { severity: stands, from: now, until: stands === 'critical' ? Math.min(end, now + DAY) : end };
    },
    lift(now: number) {
      if (quiet !== null) quiet.until = now;
    },
    isQuiet: (now: number) => quiet !== null && now < quiet.until,
    /** Since when nobody has said anything of what is critical, and nobody has asked for quiet. */
    silentSince: () =>
      stands === 'critical' ? Math.max(...said.map(({ at }) => at), quiet?.from ?? Number.NEGATIVE_INFINITY) : null,
  };
}

/** Plays both, and compares after every step. Returns all that was said. */
function play(course: readonly Step[], restarts = true): string[] {
  const real = engine();
  const naive = new Map(SUBJECTS.map((name) => [name as string, reference(name)]));
  const said: string[] = [];
  let now = NOON;
  for (const step of course) {
    now += step.wait;
    if (step.do === 'see') {
      real.see(step.subject, step.seen);
      naive.get(step.subject)?.see(step.seen);
    } else if (step.do === 'snooze') {
      real.snooze(step.subject, step.hours, now);
      naive.get(step.subject)?.snooze(step.hours, now);
    } else if (step.do === 'lift') {
      real.lift(step.subject, now);
      naive.get(step.subject)?.lift(now);
    } else if (step.do === 'restart' && restarts) real.restart();
    const lines = real.pass(now);
    const expected = [...naive.values()].flatMap((one) => one.pass(now));
    expect(lines.toSorted()).toEqual(expected.toSorted());
    for (const [name, one] of naive) {
      expect(real.quiet(name), `${name} is quiet`).toBe(one.isQuiet(now));
      // Whatever anybody asked for: what is critical is never kept quiet for more than a day.
      const silent = one.silentSince();
      if (silent !== null) expect(now - silent).toBeLessThan(DAY);
    }
    said.push(...lines.map((line) => `${now} ${line}`));
    // Who wakes when it is due neither comes late nor is woken all the time.
    const due = real.due();
    expect(due).toBeGreaterThan(now);
    if (due > now + 1) expect(real.wouldSay(Math.min(due - 1, now + 400 * DAY))).toBe(0);
    if (Number.isFinite(due)) expect(real.wouldSay(due)).toBeGreaterThan(0);
  }
  return said;
}

describe('for any course of things', () => {
  test('what is said is what a person would expect of quiet, worse, over, lifted and restarted', () => {
    fc.assert(
      fc.property(steps, (course) => void play(course)),
      { numRuns: runs(2000) },
    );
  });

  test('restarts change nothing of what is said', () => {
    fc.assert(
      fc.property(steps, (course) => {
        expect(play(course, true)).toEqual(play(course, false));
      }),
    );
  });
});

describe('as told by hand', () => {
  const see = (seen: Seen, wait = HOUR): Step => ({ do: 'see', subject: 'stripe', seen, wait });
  const snooze = (hours: number | null): Step => ({ do: 'snooze', subject: 'stripe', hours, wait: HOUR });
  const short = (course: Step[]) =>
    play(course).map((line) => {
      const [at, event, , severity] = line.split(' ');
      return `${(Number(at) - NOON) / HOUR} ${event} ${severity}`;
    });

  test('critical, fallen to a warning that is known, critical again', () => {
    expect(short([see('critical'), see('warning'), snooze(null), see('warning', 90 * DAY), see('critical')])).toEqual([
      '1 first critical',
      '2164 worse critical',
    ]);
  });

  test('what is over ends it: when it comes again it is told', () => {
    expect(short([see('warning'), snooze(null), see('warning'), see('none'), see('warning')])).toEqual([
      '1 first warning',
      '4 cleared warning',
      '5 first warning',
    ]);
  });

  test('what was hushed does not count as told, what was told does: the day of the reminders begins with it', () => {
    const course = [see('critical'), see('warning'), snooze(null), see('critical', 7 * HOUR)];
    expect(short([...course, see('critical', 17 * HOUR), see('critical', 7 * HOUR - 1), see('critical', 1)])).toEqual([
      '1 first critical',
      '10 worse critical',
      '34 reminder critical',
    ]);
  });

  test('what is critical comes back after a day, whatever was asked for', () => {
    expect(short([see('critical'), snooze(90), see('critical', DAY - 1), see('critical', 1)])).toEqual([
      '1 first critical',
      '26 reminder critical',
    ]);
  });
});
