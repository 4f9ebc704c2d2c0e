import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { raisedAdvisories, type SubjectState } from '../../../src/core/advise/advise.ts';
import type { AdvisoryKind } from '../../../src/core/advise/advisory.ts';
import { RULES } from '../../../src/core/advise/rules/rules.ts';
import { NOON, SECOND } from '../samples.ts';

describe('the order of advisories', () => {
  const KINDS = [
    'state-refused',
    'state-disk-low',
    'volume-absent',
    'array-degraded',
    'drive-failing',
    'copy-differs',
    'list-differs',
    'volume-read-only',
    'shelf-read-only',
    'footage-time',
    'capacity-reserve',
    'capacity-overrun',
    'speed-overrun',
    'volume-busy',
    'volume-slow',
    'backup-failed',
    'shelf-absent',
    'backup-missed',
    'footage-exposed',
    'backup-window',
    'shelf-filling',
    'single-shelf',
    'layout-contradiction',
    'watch-limit',
    'clock-jump',
    'plan-missed',
    'card-incomplete',
    'take-incomplete',
    'clip-undecoded',
    'take-differs',
    'mixed-rates',
    'arrival-stalled',
    'arrival-refused',
  ] as const;

  /** A state in which these are raised, made in this order. */
  function raised(those: { kind: AdvisoryKind; severity: 'warning' | 'critical'; seconds: number; subject: string }[]) {
    const entries = those.map(({ kind, severity, seconds, subject }): [string, SubjectState] => {
      const id = `${kind}:${subject}`;
      const hysteresis = { phase: 'raised', severity, since: NOON + seconds * SECOND, falling: null } as const;
      const latest = { message: '', figures: {}, remedies: [] };
      return [id, { id, kind, subject, hysteresis, announced: null, snooze: null, latest }];
    });
    return raisedAdvisories(new Map(entries)).map(({ id, severity, since }) => ({ id, severity, since }));
  }

  test('of one severity: the volume, its room, its speed, then single arrivals, however old each is', () => {
    const those = KINDS.map((kind, index) => ({ kind, severity: 'warning', seconds: -index, subject: 's' }) as const);
    const expected = KINDS.map((kind) => `${kind}:s`);
    expect(raised(those).map(({ id }) => id)).toEqual(expected);
    expect(raised(those.toReversed()).map(({ id }) => id)).toEqual(expected);
  });

  test('severity goes before kind; of one kind the oldest comes first', () => {
    expect(
      raised([
        { kind: 'volume-absent', severity: 'warning', seconds: 0, subject: 'new' },
        { kind: 'volume-absent', severity: 'warning', seconds: -5, subject: 'old' },
        { kind: 'arrival-refused', severity: 'critical', seconds: 9, subject: 's' },
      ]).map(({ id }) => id),
    ).toEqual(['arrival-refused:s', 'volume-absent:old', 'volume-absent:new']);
  });

  test('does not depend on the order in which they came', () => {
    const one = fc.record({
      kind: fc.constantFrom(...KINDS),
      severity: fc.constantFrom('warning', 'critical'),
      seconds: fc.nat(3),
      subject: fc.constantFrom('a', 'b', 'c'),
    });
    const some = fc.uniqueArray(one, { selector: ({ kind, subject }) => `${kind}:${subject}` });
    fc.assert(
      fc.property(some, (those) => {
        const shown = raised(those);
        expect(raised(those.toReversed())).toEqual(shown);
        const severities = shown.map(({ severity }) => severity);
        expect(severities).toEqual(severities.toSorted());
      }),
    );
  });

  test('knows every rule there is', () => {
    expect(RULES.map(({ kind }) => kind)).toEqual(KINDS);
  });
});
