import type { ShelfLook, ShelfPort } from '../../core/backup/shelf-port.ts';
import { askProcess } from '../base/ask-process.ts';
import { encodeOrder, type ShelfOrder } from './shelf-order.ts';

/** A drive that has to wake up first takes its time. */
const PATIENCE_MS = 30_000;

const NO_ANSWER = 'it did not answer within 30 seconds; look whether the drive hangs';

/** Shelves, each order in a process of its own. `entry`: that process. */
export function createShelfPort(entry: string, withinMs = PATIENCE_MS): ShelfPort {
  const ask = (order: ShelfOrder) => askProcess(entry, encodeOrder(order), withinMs);
  return {
    async look(path, volume) {
      const told = (await ask({ do: 'look', path, volume })) as WireLook | null;
      return told === null ? { is: 'absent', why: `${NO_ANSWER}.` } : fromWire(told);
    },
    async mark(path, marker) {
      const told = (await ask({ do: 'mark', path, marker })) as { trouble: string | null } | null;
      return told === null ? `${path} could not be marked: ${NO_ANSWER}.` : told.trouble;
    },
    async setAside(guard, from, to) {
      const told = (await ask({ do: 'set-aside', guard, from, to })) as {
        done: 'moved' | 'missing' | { trouble: string };
      } | null;
      return told === null ? { trouble: `${from} could not be set aside: ${NO_ANSWER}.` } : told.done;
    },
  };
}

type There = Extract<ShelfLook, { is: 'there' }>;
type Beside = NonNullable<There['volume']>;

/** Device numbers as text: messages between processes are JSON. */
export type WireLook =
  | Extract<ShelfLook, { is: 'absent' }>
  | (Omit<There, 'device' | 'volume'> & {
      device: string;
      volume: (Omit<Beside, 'device'> & { device: string }) | null;
    });

export function toWire(look: ShelfLook): WireLook {
  if (look.is === 'absent') return look;
  const { device, volume, ...rest } = look;
  return {
    ...rest,
    device: String(device),
    volume: volume === null ? null : { ...volume, device: String(volume.device) },
  };
}

function fromWire(told: WireLook): ShelfLook {
  if (told.is === 'absent') return told;
  const { device, volume, ...rest } = told;
  return {
    ...rest,
    device: BigInt(device),
    volume: volume === null ? null : { ...volume, device: BigInt(volume.device) },
  };
}
