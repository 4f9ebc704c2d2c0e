import { expect, test } from 'vitest';
import type { StateRoom } from '../../../src/core/machine-port.ts';
import { createMachineView } from '../../../src/daemon/assess/machine-view.ts';
import { fakeClock } from '../../fakes/clock.ts';

const NOON = 1_804_161_600_000;
const ROOM: StateRoom = { path: '/state', availableBytes: 5, ownBytes: 1 };

test('the room is asked for every ten seconds; a drive that does not answer keeps what was told of it', async () => {
  const clock = fakeClock(NOON);
  let asked = 0;
  let answer: () => Promise<StateRoom | null> = async () => ROOM;
  const view = createMachineView(
    {
      uptime: () => clock.ticks() / 1000,
      stateRoom() {
        asked += 1;
        return answer();
      },
    },
    clock,
  );
  expect(await view.look()).toEqual({ clockJump: null, stateRoom: ROOM });
  await view.look();
  expect(asked).toBe(1);
  await clock.advance(10_000);
  answer = () => new Promise(() => {});
  const slow = view.look();
  await clock.advance(1_000);
  expect((await slow).stateRoom).toEqual(ROOM);
  await clock.advance(10_000);
  const again = view.look();
  await clock.advance(1_000);
  await again;
  // The one question stands.
  expect(asked).toBe(2);
});

test('a wall clock that jumps is found at the next look', async () => {
  const clock = fakeClock(NOON);
  const view = createMachineView({ uptime: () => clock.ticks() / 1000, stateRoom: async () => null }, clock);
  await view.look();
  clock.jump(3_600_000);
  expect((await view.look()).clockJump).toEqual({ at: NOON + 3_600_000, byMs: 3_600_000 });
});
