import type { ShelfGuard } from '../../core/backup/copy-port.ts';
import type { ShelfList, ShelfMarker } from '../../core/backup/shelf-port.ts';
import type { PathText } from '../../core/model.ts';

/** What the process of one order does on a shelf. */
export type ShelfOrder =
  | { do: 'look'; path: string; volume: string }
  | { do: 'mark'; path: string; marker: ShelfMarker }
  | { do: 'set-aside'; guard: ShelfGuard; from: PathText; to: PathText }
  | { do: 'list'; guard: ShelfGuard; list: ShelfList };
