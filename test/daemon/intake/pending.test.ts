import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createPending, type Weight } from '../../../src/daemon/intake/pending.ts';

const weight = (project: string | null, bytes = 1, halted = false): Weight => ({ project, bytes, halted });

describe('what is pending', () => {
  test('all that halted are picked, of the others the first, and one of each project', () => {
    const pending = createPending<string>();
    for (let count = 0; count < 300; count += 1) pending.note(`a${count}`, weight('Saltmarsh'));
    pending.note('lonely', weight('Lock Keepers'));
    for (let count = 0; count < 9; count += 1) pending.note(`bad${count}`, weight('Saltmarsh', 5, true));
    const picked = [...pending.pick(20)];
    expect(picked.filter((item) => item.startsWith('bad')).length).toBe(9);
    expect(picked).toContain('lonely');
    expect(picked.length).toBe(29);
    expect(pending.pick(0).size).toBe(11);
    expect(pending.totals()).toEqual({ pending: 310, bytes: 346 });
    expect(pending.moving()).toBe(301);
  });

  test('the sums are those of all items, however they change', () => {
    const items = fc.constantFrom('a', 'b', 'c', 'd');
    const weights = fc.record({
      project: fc.constantFrom('x', 'y', null),
      bytes: fc.nat(1000),
      halted: fc.boolean(),
    });
    fc.assert(
      fc.property(fc.array(fc.tuple(items, fc.option(weights))), (history) => {
        const pending = createPending<string>();
        const all = new Map<string, Weight>();
        for (const [item, as] of history) {
          if (as === null) {
            pending.drop(item);
            all.delete(item);
          } else {
            pending.note(item, as);
            all.set(item, as);
          }
        }
        const known = [...all.values()];
        expect(pending.totals()).toEqual({
          pending: known.length,
          bytes: known.reduce((sum, { bytes }) => sum + bytes, 0),
        });
        expect(pending.moving()).toBe(known.filter(({ halted }) => !halted).length);
        expect(pending.pick(10)).toEqual(new Set(all.keys()));
      }),
    );
  });
});
