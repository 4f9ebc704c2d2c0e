import { describe, expect, test } from 'vitest';
import { restoreAdvice, storeAdvice } from '../../../src/core/advise/advice-store.ts';
import type { SubjectState } from '../../../src/core/advise/advise.ts';
import { snoozeOf } from '../../../src/core/advise/snooze.ts';
import { NOON } from '../samples.ts';

const ID = 'volume-busy:stripe';
const SNOOZE = snoozeOf({ until: NOON + 5, reason: 'a\u0000"b\ud800', by: 'anna' }, 'warning', NOON);
const SUBJECT: SubjectState = {
  ...{ id: ID, kind: 'volume-busy', subject: 'stripe', announced: null, snooze: SNOOZE },
  hysteresis: { phase: 'raised', since: NOON, severity: 'warning', falling: null },
  latest: { message: 'busy', figures: {}, remedies: [] },
};

describe('what is kept of a snooze', () => {
  test('comes back as it was', () => {
    expect(restoreAdvice(storeAdvice(new Map([[ID, SUBJECT]])))).toEqual({
      state: new Map([[ID, SUBJECT]]),
      dropped: [],
    });
  });

  test('a row of an earlier version knows none', () => {
    const { snooze, ...earlier } = SUBJECT;
    const { state, dropped } = restoreAdvice([{ id: ID, json: JSON.stringify(earlier) }]);
    expect(dropped).toEqual([]);
    expect(state.get(ID)).toEqual({ ...SUBJECT, snooze: null });
  });

  test.each([
    ['a number', 5],
    ['nothing in it', {}],
    ['no time', { ...SNOOZE, saidAt: null }],
    ['an end that is no time', { ...SNOOZE, until: 'soon' }],
    ['an end for another reason', { ...SNOOZE, ends: 'never' }],
    ['no severity', { ...SNOOZE, severity: 'loud' }],
    ['a reason that is no text', { ...SNOOZE, reason: [] }],
    ['who is no text', { ...SNOOZE, saidBy: null }],
    ['known in another way', { ...SNOOZE, isKnown: 'yes' }],
  ])('a damaged one (%s) silences nothing: the advisory is raised anew', (_, snooze) => {
    const { state, dropped } = restoreAdvice([{ id: ID, json: JSON.stringify({ ...SUBJECT, snooze }) }]);
    expect([...state.keys(), dropped]).toEqual([[ID]]);
  });
});
