import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createWaker } from '../../../src/daemon/intake/waker.ts';
import { fakeClock } from '../../fakes/clock.ts';

interface Item {
  name: string;
  due: number;
}

function stage() {
  const clock = fakeClock(0);
  const woken: string[] = [];
  const waker = createWaker<Item>(
    clock,
    ({ due }) => due,
    (item) => {
      woken.push(`${item.name} ${Math.round(clock.ticks() / 1000)}`);
      item.due = Number.POSITIVE_INFINITY;
    },
  );
  const put = (name: string, due: number): Item => {
    const item = { name, due };
    waker.set(item);
    return item;
  };
  return { clock, put, waker, woken };
}

describe('the waker', () => {
  test('wakes each once when it is due, in any order of setting', async () => {
    const { clock, put, woken } = stage();
    for (const due of [30, 10, 20, Number.POSITIVE_INFINITY]) put(`for ${due}`, due);
    await clock.advance(60_000);
    expect(woken).toEqual(['for 10 10', 'for 20 20', 'for 30 30']);
  });

  test('what is put off is woken later and only once, what is put forward earlier', async () => {
    const { clock, put, waker, woken } = stage();
    const [late, soon] = [put('put off', 10), put('put forward', 50)];
    late.due = 40;
    waker.set(late);
    soon.due = 20;
    waker.set(soon);
    await clock.advance(100_000);
    expect(woken).toEqual(['put forward 20', 'put off 40']);
  });

  test('of very many that are due at once the loop gets its turn in between', async () => {
    const { clock, put, woken } = stage();
    for (let count = 0; count < 1200; count += 1) put('x', 1);
    await clock.advance(1001);
    expect(woken.length).toBe(500);
    await clock.advance(50);
    expect(woken.length).toBe(1200);
  });

  test('whatever the times, none is early and none is forgotten', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.integer({ min: 0, max: 50 }), { maxLength: 40 }), async (dues) => {
        const { clock, put, woken } = stage();
        for (const due of dues) put(String(due), due);
        await clock.advance(60_000);
        expect(woken).toEqual(dues.toSorted((a, b) => a - b).map((due) => `${due} ${due}`));
      }),
      { numRuns: 30 },
    );
  });
});
