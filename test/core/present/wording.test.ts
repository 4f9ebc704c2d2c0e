import { describe, expect, test } from 'vitest';
import { ARRIVAL_WORDS, CLEARED_WORDS, VOLUME_STATE_WORDS } from '../../../src/core/present/wording.ts';

const WORDS = Object.entries(ARRIVAL_WORDS);

describe('words for arrivals', () => {
  test.each(WORDS)('%s: a clause, and whole sentences of advice', (_, { means, todo }) => {
    expect(means).toMatch(/^(it|its|a|room|nothing|reading) .*[^.]$/);
    if (todo !== null) expect(todo).toMatch(/^[A-Z].*\.$/);
  });

  // Where something may be wrong with what arrived, the card is the only good copy.
  test.each(['incomplete', 'unwritten', 'empty', 'not-media', 'unreadable', 'probe-failed'] as const)(
    '%s asks to keep the card',
    (reason) => expect(ARRIVAL_WORDS[reason].todo).toMatch(/keep the card/i),
  );

  test('nothing ever calls a card safe to erase', () => {
    const all = [...WORDS.flatMap(([, { means, todo }]) => [means, todo ?? '']), ...Object.values(VOLUME_STATE_WORDS)];
    expect(all.filter((text) => /erase|format|delete|safe/i.test(text ?? ''))).toEqual([]);
  });
});

describe('words for what is over', () => {
  test.each(Object.entries(CLEARED_WORDS))('%s: one sentence or two that name what it was about', (kind, words) => {
    const told = words('stripe/Lock Keepers');
    expect(told).toMatch(/^[A-Z a-z].*[^.]\.$/);
    // The daemon's own state is of no volume.
    if (kind !== 'state-refused') expect(told).toContain('stripe/Lock Keepers');
    expect(told).not.toMatch(/\b(erase|format|delete|safe)\b/i);
  });
});
