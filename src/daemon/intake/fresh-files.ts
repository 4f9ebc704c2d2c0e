import type { FileRecord, FileStat, PathText } from '../../core/model.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import { inTurns } from '../turns.ts';
import type { Placing } from './placing.ts';
import type { UnitBoard } from './unit-board.ts';

export interface FreshFilesDeps {
  volume: string;
  catalogue: Pick<CataloguePort, 'putFiles' | 'filesOfUnits'>;
  board: UnitBoard;
  trouble: StoreTrouble;
  placing: () => Placing | null;
  /** Every folder was read once since the start. */
  complete: () => boolean;
  touched: (project: string | null) => void;
}

/** place > note > settle: what is new, changed or not yet ready. */
export interface FreshFiles {
  /** Rejects when the store refuses. `listed`: found by a listing (see `UnitBoard.seen`). */
  take(files: readonly FileStat[], listed: boolean): Promise<void>;
  /** The unit is no longer on the board. */
  left(unit: string): void;
}

export function createFreshFiles(deps: FreshFilesDeps): FreshFiles {
  const { board, catalogue, volume } = deps;
  /** Units on the board together with all their files: who comes to one of those needs no companions. */
  const accompanied = new Set<string>();

  /** A file of a finished take changed: the others settle with it again, so that they stay a clip if it turns out bad. */
  async function takeCompanions(arriving: readonly FileRecord[]): Promise<void> {
    const units = [...new Set(arriving.map(({ unit }) => unit))].filter((unit) => !accompanied.has(unit));
    if (units.length === 0) return;
    const seen = new Set<PathText>(arriving.map(({ path }) => path));
    const files = await catalogue.filesOfUnits(volume, units);
    for (const unit of units) accompanied.add(unit);
    board.resumed(files.filter(({ path, state }) => state === 'ready' && !seen.has(path)));
  }

  return {
    async take(files, listed) {
      const placing = deps.placing();
      if (placing === null || files.length === 0) return;
      const records = await inTurns(files, placing.records);
      const finished = new Set(await catalogue.putFiles(records));
      deps.trouble.worked();
      const arriving = records.filter(({ path, state }) => state === 'arriving' && !finished.has(path));
      board.seen(arriving, listed);
      if (deps.complete()) await takeCompanions(arriving);
      for (const project of new Set(records.map((record) => record.project))) deps.touched(project);
    },
    left: (unit) => void accompanied.delete(unit),
  };
}
