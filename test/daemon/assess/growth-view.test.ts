import { describe, expect, test } from 'vitest';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';
import { createGrowthView } from '../../../src/daemon/assess/growth-view.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

const TB = 1e12;
const H = 500_000;

function stage(there: { hour: number; bytes: number }[] = []) {
  const clock = fakeClock(H * HOUR_MS);
  const ledger = fakeLedger();
  const refused: unknown[] = [];
  let asked = 0;
  const footageHours = async () => {
    asked += 1;
    return there;
  };
  const open = async () => {
    const deps = { volumes: ['stripe'], ledger, catalogue: { footageHours }, clock };
    const view = createGrowthView({ ...deps, refused: (error) => void refused.push(error) });
    await view.start();
    return view;
  };
  const mark = (hours: number, used: number, footage: number) => {
    return { at: (H + hours) * HOUR_MS, usedBytes: used * TB, footageBytes: footage * TB };
  };
  return { clock, ledger, refused, open, mark, asked: () => asked };
}

describe('what came to a volume', () => {
  test('before headroomd did is told by when files were changed last, once', async () => {
    const { open, mark, asked } = stage([
      { hour: H - 24 * 200, bytes: 5 * TB },
      { hour: H - 30, bytes: TB },
      { hour: H + 9, bytes: TB },
    ]);
    const view = await open();
    await view.note('stripe', mark(0, 3, 2), 24 * TB);
    const [only, ...more] = view.of('stripe').hours;
    expect([only, more.length]).toEqual([{ hour: H - 30, ingestBytes: TB, otherBytes: 0, deletedBytes: 0 }, 0]);
    const again = await open();
    expect(again.of('stripe').hours).toEqual([only]);
    await again.note('stripe', mark(1, 3, 2), 24 * TB);
    expect(asked()).toBe(1);
  });

  test('is booked from one look to the next, kept once a minute, and goes on where it was kept', async () => {
    const { clock, open, mark, ledger } = stage();
    const view = await open();
    await view.note('stripe', mark(0, 3, 2), 24 * TB);
    const before = view.of('stripe').version;
    await view.note('stripe', mark(0.1, 4, 3), 24 * TB);
    expect(view.of('stripe').version).toBeGreaterThan(before);
    expect((await ledger.growth('stripe', 0)).hours).toEqual([]);
    await clock.advance(60_000);
    await view.note('stripe', mark(0.2, 4.5, 3.5), 24 * TB);
    const kept = { hour: H, ingestBytes: 1.5 * TB, otherBytes: 0, deletedBytes: 0 };
    expect((await ledger.growth('stripe', 0)).hours).toEqual([kept]);
    // Not kept any more: ended with SIGKILL. What came is booked from what was kept last.
    await view.note('stripe', mark(0.3, 5.5, 4.5), 24 * TB);
    const next = await open();
    expect(next.of('stripe').hours).toEqual([kept]);
    await next.note('stripe', mark(0.9, 6, 5), 24 * TB);
    expect(next.of('stripe').hours).toEqual([{ ...kept, ingestBytes: 3 * TB }]);
  });

  test('a store that refuses is told, and what is known stays', async () => {
    const { open, mark, ledger, refused, clock } = stage();
    const view = await open();
    await view.note('stripe', mark(0, 3, 2), 24 * TB);
    ledger.putGrowth = async () => {
      throw new Error('the state disk is full');
    };
    await clock.advance(60_000);
    await view.note('stripe', mark(0.5, 4, 3), 24 * TB);
    expect(refused).toHaveLength(1);
    expect(view.of('stripe').hours).toHaveLength(1);
  });

  test('of a volume that nobody noted nothing is known', async () => {
    const { open } = stage();
    expect((await open()).of('shelf-a')).toEqual({ hours: [], version: 0 });
  });
});
