import type { ShelfGuard } from '../../core/backup/copy-port.ts';
import type { ShelfMarker } from '../../core/backup/shelf-port.ts';
import type { PathText } from '../../core/model.ts';

/** What the process of one order does on a shelf. */
export type ShelfOrder =
  | { do: 'look'; path: string; volume: string }
  | { do: 'mark'; path: string; marker: ShelfMarker }
  | { do: 'set-aside'; guard: ShelfGuard; from: PathText; to: PathText };

/** An order as the one argument of its process; device numbers do not fit a number. */
export function encodeOrder(order: ShelfOrder): string {
  return JSON.stringify(order, (_, value: unknown) => (typeof value === 'bigint' ? `${value}n` : value));
}

export function decodeOrder(text: string | undefined): ShelfOrder {
  const big = /^\d+n$/;
  return JSON.parse(text ?? 'null', (key, value: unknown) =>
    key === 'device' && typeof value === 'string' && big.test(value) ? BigInt(value.slice(0, -1)) : value,
  ) as ShelfOrder;
}
