import type { Clip, FileRecord } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { ArrivalSettings } from '../../settings/settings.ts';
import type { Inspect } from './inspector.ts';
import type { Understanding, Understood } from './understand.ts';

/** What the board of a volume's units works with. */
export interface BoardDeps {
  volume: string;
  limits: ArrivalSettings;
  clock: Clock;
  log: Log;
  inspect: Inspect;
  /** Groups and probes the files of a unit that is complete. */
  read: (unit: string, records: readonly FileRecord[], evidence: Clip['evidence']) => Promise<Understanding>;
  /** Keeps what was read: files become ready, clips are there. Rejects when it cannot (a full state disk). */
  keep: (unit: string, understood: Understood) => Promise<void>;
  /** Notes that a unit's files were refused. Never rejects. */
  refused: (records: readonly FileRecord[]) => Promise<void>;
  /** Nothing of the unit is on the board any more, for whatever reason. */
  left?: (unit: string) => void;
  /** The files of these units, as the catalogue has them. */
  recall: (units: string[]) => Promise<FileRecord[]>;
  /** Something that the arrivals list shows has changed. */
  changed: () => void;
  /** So many units are looked at together; more that a listing shows wait. */
  mostAtOnce?: number;
}
