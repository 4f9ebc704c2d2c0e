import { expect, test } from 'vitest';
import type { Log } from '../../../src/core/ports.ts';
import { createRootState } from '../../../src/daemon/intake/root-state.ts';

const LIMIT = { name: 'max_user_watches', folders: 31, wanted: 524_288 };

test('why folders are not watched is told until it is over, or the root is watched anew', () => {
  const warned: unknown[] = [];
  const log = { info() {}, warn: (_: unknown, message: string) => warned.push(message) } as unknown as Log;
  const state = createRootState({ name: 'stripe', path: '/media/stripe' }, log);
  state.told('live', null);
  state.swept();
  expect(state.current()).toEqual({ state: 'live', detail: null });
  state.trouble({ type: 'watch-limit', limit: LIMIT });
  expect(state.current()).toEqual({ state: 'live', detail: null, watchLimit: LIMIT });
  state.trouble({ type: 'watch-limit', limit: null });
  expect(state.current().watchLimit).toBeUndefined();
  state.trouble({ type: 'watch-limit', limit: LIMIT });
  state.told('starting', null);
  state.told('live', null);
  expect(state.current().watchLimit).toBeUndefined();
  expect(warned).toEqual([]);
  state.trouble({ type: 'trouble', kind: 'watch-error', detail: 'EIO: failed, watch' });
  expect(warned).toEqual(['EIO: failed, watch']);
});
