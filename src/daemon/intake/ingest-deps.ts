import type { FileStat } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { RootEvent, RootPort } from '../../core/root-port.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { ArrivalSettings, VolumeSettings } from '../../settings/settings.ts';
import type { LineMark } from '../loop-marks.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import type { RuleTold } from './placing.ts';

export interface IngestDeps {
  volume: VolumeSettings;
  limits: ArrivalSettings;
  root: RootPort;
  catalogue: CataloguePort;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  /** What was taken for a project, once it is known. */
  ruleTold: (told: RuleTold) => void;
  /** Files or clips of this project changed. */
  touched: (project: string | null) => void;
  /** Something on its way stands otherwise than before; of what is known nothing changed. */
  arrivalsChanged: () => void;
  /** Files came or changed; they are noted. */
  noticed: (files: readonly FileStat[]) => void;
  /** The first sweep is through. */
  swept: (event: Extract<RootEvent, { type: 'swept' }>) => void;
  /** Touched with every event that is taken. */
  mark?: LineMark;
}
