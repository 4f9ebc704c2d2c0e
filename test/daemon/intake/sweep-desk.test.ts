import { expect, test } from 'vitest';
import type { Log } from '../../../src/core/ports.ts';
import { createSweepDesk } from '../../../src/daemon/intake/sweep-desk.ts';

const SILENT: Log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} };

test('a sweep is begun by name or folder, joined while it goes on, and told with why it did not come to its end', async () => {
  let now = 1000;
  let begun = 0;
  let end: (error?: Error) => void = () => {};
  const sweep = () => {
    begun += 1;
    return new Promise<void>((resolve, reject) => {
      end = (error) => (error === undefined ? resolve() : reject(error));
    });
  };
  const volumes = [{ settings: { name: 'stripe', path: '/media/stripe' }, root: { sweep } }];
  const desk = createSweepDesk(volumes, { now: () => now }, SILENT);
  expect(desk.begin('shelf\x1b')).toEqual({ problem: 'there is no volume shelf\\x1b; there are stripe' });
  expect(desk.view()).toEqual([]);

  expect([desk.begin('stripe'), desk.begin('/media/stripe/'), desk.begin(null)]).toEqual(
    Array.from({ length: 3 }, () => ({ begun: ['stripe'] })),
  );
  expect(begun).toBe(1);
  expect(desk.view()).toEqual([{ volume: 'stripe', startedAt: 1000, endedAt: null, why: null }]);
  now = 3000;
  end();
  await Promise.resolve();
  await Promise.resolve();
  expect(desk.view()).toEqual([{ volume: 'stripe', startedAt: 1000, endedAt: 3000, why: null }]);

  desk.begin('stripe');
  end(new Error('stripe is away'));
  await Promise.resolve();
  await Promise.resolve();
  expect(begun).toBe(2);
  expect(desk.view()[0]).toMatchObject({ startedAt: 3000, endedAt: 3000, why: 'stripe is away' });
});
