import { describe, expect, test } from 'vitest';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import { exposedOn, filesNotOn, isKept } from '../../../src/core/cards/kept-card.ts';

const AT = Date.UTC(2027, 1, 11, 9);
const take = (path: string, size = 9, mtimeMs: number | null = AT): InventoryFile => ({ path, size, mtimeMs });

describe('a card that is said to be kept', () => {
  test('has lost what is not there by name, size and time', () => {
    const files = [take('a.mov'), take('b.mov'), take('c.mov'), take('d.mov')];
    const now = [take('a.mov'), take('b.mov', 8), take('c.mov', 9, AT + 60_000), take('e.mov')];
    expect(filesNotOn(files, now).map(({ path }) => path)).toEqual(['b.mov', 'c.mov', 'd.mov']);
    expect(filesNotOn(files, files)).toEqual([]);
    expect(filesNotOn([], now)).toEqual([]);
  });

  test('frames of one size are told apart by their time; another zone and steps of 2 s are the same time', () => {
    const frames = (at: number) => [1, 2, 3].map((n) => take(`A_${n}.ari`, 12_000_000, at + n * 40));
    expect(filesNotOn(frames(AT), frames(AT + 86_400_000 * 3 + 7_000))).toHaveLength(3);
    expect(filesNotOn(frames(AT), frames(AT + 3_600_000))).toEqual([]);
    expect(filesNotOn(frames(AT), frames(AT + 1_999))).toEqual([]);
  });

  test('counts until it ends; bytes with as many verified copies as wanted are not exposed', () => {
    const kept = { inventory: 'i', saidAt: AT, saidBy: 'mina', endedAt: null, lacking: 0 };
    expect([isKept(kept), isKept({ ...kept, endedAt: AT }), isKept(null)]).toEqual([true, false, false]);
    const exposable = [
      { volume: 'stripe', copies: 0, bytes: 5 },
      { volume: 'stripe', copies: 1, bytes: 7 },
      { volume: 'stripe', copies: 2, bytes: 11 },
      { volume: 'mirror', copies: 0, bytes: 13 },
    ];
    expect([0, 1, 2, 3].map((wanted) => exposedOn(exposable, 'stripe', wanted))).toEqual([0, 5, 12, 23]);
  });
});
