import { expect, test } from 'vitest';
import type { Space } from '../../../src/core/model.ts';
import { createSpaceView } from '../../../src/daemon/assess/space-view.ts';
import type { VolumeSource } from '../../../src/daemon/assess/volume-source.ts';
import { fakeClock } from '../../fakes/clock.ts';

const ROOM = { totalBytes: 9, freeBytes: 5, availableBytes: 4 };

test('since when a volume takes no writes is told only of one that took them before', async () => {
  const clock = fakeClock(1_804_161_600_000);
  let space: Space = { ...ROOM, readOnly: true };
  const volume = {
    ...{ settings: { name: 'stripe' }, state: () => ({ state: 'live', detail: null }), space: async () => space },
  } as unknown as VolumeSource;
  const view = createSpaceView([volume], clock, { debug() {} } as never);
  const turnedAt = async () => (await view.measure()).get('stripe')?.turnedReadOnlyAt;
  expect(await turnedAt()).toBeNull();
  space = ROOM;
  expect(await turnedAt()).toBeNull();
  space = { ...ROOM, readOnly: true };
  const at = clock.now();
  expect(await turnedAt()).toBe(at);
  await clock.advance(60_000);
  expect(await turnedAt()).toBe(at);
  space = ROOM;
  expect(await turnedAt()).toBeNull();
});
