import type { MachineAssessment } from '../../core/assess/assessment.ts';
import { type ClockWatch, watchClock } from '../../core/assess/clock-watch.ts';
import type { MachinePort, StateRoom } from '../../core/machine-port.ts';
import type { Clock } from '../../core/ports.ts';
import { within } from '../patience.ts';

/** The room for the state is asked for so often: it goes by itself, as others write. */
const ROOM_MS = 10_000;
/** A drive that does not answer by then keeps what was told of it. */
const PATIENCE_MS = 1_000;

export interface MachineView {
  /** One more look. Never rejects. */
  look(): Promise<MachineAssessment>;
}

/** Follows the machine itself: its clock, and the drive of the state. */
export function createMachineView(machine: MachinePort, clock: Clock): MachineView {
  let watch: ClockWatch | null = null;
  let stateRoom: StateRoom | null = null;
  let askedAt = Number.NEGATIVE_INFINITY;
  let asking: Promise<void> | null = null;

  function ask(): Promise<void> {
    asking ??= machine.stateRoom().then((room) => {
      stateRoom = room;
      asking = null;
    });
    return asking;
  }

  return {
    async look() {
      // Both in one breath: what passes between them would seem to be a clock that was set.
      watch = watchClock(watch, clock.now(), machine.uptime());
      if (clock.ticks() - askedAt >= ROOM_MS) {
        askedAt = clock.ticks();
        await within(clock, PATIENCE_MS, ask());
      }
      return { clockJump: watch?.jump ?? null, stateRoom };
    },
  };
}
