import { messageOf } from '../../core/fault.ts';
import type { Instant, Space } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { within } from '../patience.ts';
import type { VolumeSource } from './volume-source.ts';

/** A volume that does not tell its room in this time keeps its last figures, marked as old. */
const patienceMs = 2_000;

/** `fresh` is false where only an earlier answer is known. */
export interface KnownRoom {
  space: Space;
  fresh: boolean;
  /** When it was found to take no more writes, after it had; `null`: it takes them, or never did since the start. */
  turnedReadOnlyAt: Instant | null;
}

export interface SpaceView {
  /** Room by volume name. Never rejects. */
  measure(): Promise<ReadonlyMap<string, KnownRoom>>;
}

/** Asks every live volume for its room, at most one question to each at a time. */
export function createSpaceView(volumes: readonly VolumeSource[], clock: Clock, log: Log): SpaceView {
  const rooms = new Map<string, KnownRoom>();
  const asking = new Map<string, Promise<void>>();

  function ask(volume: VolumeSource): Promise<void> {
    const { name } = volume.settings;
    const pending = asking.get(name);
    if (pending !== undefined) return pending;
    const question = volume
      .space()
      .then(
        (space) =>
          void rooms.set(name, { space, fresh: true, turnedReadOnlyAt: turnedAt(rooms.get(name), space, clock.now()) }),
        (error) => log.debug({ volume: name, error: messageOf(error) }, 'room not known'),
      )
      .finally(() => asking.delete(name));
    asking.set(name, question);
    return question;
  }

  return {
    async measure() {
      for (const room of rooms.values()) room.fresh = false;
      const questions = volumes.filter((volume) => volume.state().state === 'live').map(ask);
      await within(clock, patienceMs, Promise.all(questions));
      return new Map(rooms);
    },
  };
}

function turnedAt(before: KnownRoom | undefined, space: Space, now: Instant): Instant | null {
  if (space.readOnly !== true || before === undefined) return null;
  return before.space.readOnly === true ? before.turnedReadOnlyAt : now;
}
