import { expect, test } from 'vitest';
import { noisyDay } from '../assess/noisy-day.ts';
import { changesOf, naiveChanges } from './noisy-advice.ts';

// The day is ours (noisy-day.ts: no published record of such loads is known to us); three spells begin and end, so six is ideal.
test.each(Array.from({ length: 10 }, (_, index) => index + 1))(
  'a noisy day, the %i.: announced as often as something happens',
  (seed) => {
    const { shares, spells } = noisyDay(seed);
    const said = changesOf(shares);
    expect(said.map((line) => line.split(' ')[1])).toEqual(spells.flatMap(() => ['first', 'cleared']));
    for (const [index, { from, to }] of spells.entries()) {
      const [raised, cleared] = [2 * index, 2 * index + 1].map((at) => Number(said[at]?.split(' ')[0]));
      expect(raised).toBeGreaterThan(from);
      expect(raised).toBeLessThan(to);
      expect(cleared).toBeGreaterThan(to);
    }
    expect(naiveChanges(shares)).toBeGreaterThan(60);
  },
);

test('a day without a spell is a quiet one, however noisy', () => {
  for (let seed = 1; seed <= 5; seed++) {
    const { shares } = noisyDay(seed, []);
    expect(changesOf(shares)).toEqual([]);
    expect(naiveChanges(shares)).toBeGreaterThan(30);
  }
});
