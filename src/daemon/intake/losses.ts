import { baseName } from '../../core/intake/path-text.ts';
import { isBelow } from '../../core/intake/settle-changes.ts';
import { isTemporaryName } from '../../core/intake/system-names.ts';
import type { PathText } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import { formatBytes, formatCount } from '../../core/units.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import type { Placing } from './placing.ts';
import type { UnitBoard } from './unit-board.ts';

export interface LossesDeps {
  volume: string;
  catalogue: Pick<CataloguePort, 'forget' | 'filesOfUnits'>;
  board: UnitBoard;
  trouble: Pick<StoreTrouble, 'worked'>;
  log: Log;
  placing: () => Placing | null;
  touched: (project: string | null) => void;
}

/** Forgets files, and folders with all below them. Both reject when the store refuses. */
export interface Losses {
  /** Those of them that are known under another path by now; nothing is lost by that. */
  renamed(paths: PathText[]): Promise<void>;
  /** They are gone: recorded with files and bytes. `files`: only the files of these very paths. */
  forget(paths: PathText[], only?: 'files'): Promise<void>;
}

interface Loss {
  paths: readonly PathText[];
  files: number;
  bytes: number;
  first: PathText;
  /** Nothing that was meant to stay. */
  passing: boolean;
}

export function createLosses({ volume, catalogue, board, trouble, log, placing, touched }: LossesDeps): Losses {
  /** Units that lost some files are other clips now: what is left settles again, also what was refused for what is gone. */
  async function regroup(units: string[]): Promise<void> {
    if (units.length === 0) return;
    const left = await catalogue.filesOfUnits(volume, units);
    board.resumed(left.filter((file) => file.state !== 'arriving'));
  }

  function tell({ paths, files, bytes, first, passing }: Loss): void {
    // Of what was asked for, some may have been renamed: what is named is what is gone.
    const named = files === 1 ? first : (paths.find((path) => isBelow(first, new Set([path]))) ?? first);
    const more = files > 1 ? ' and others' : '';
    const told = passing ? log.debug : log.info;
    told.call(
      log,
      { event: 'gone', volume, files, bytes },
      `No longer on ${display(volume)}: ${display(named)}${more} (${formatCount(files, 'file')}, ${formatBytes(bytes)}).`,
    );
  }

  return {
    async renamed(paths) {
      const { units } = await catalogue.forget(volume, paths, 'renamed');
      if (units.length > 0) trouble.worked();
      await regroup(units);
      touched(null);
    },
    async forget(paths, only) {
      if (paths.length === 0) return;
      // A copy's temporary name that goes is the end of the copy, no loss.
      const passing = paths.every((path) => isTemporaryName(baseName(path)));
      const how = only ?? (passing ? 'left-out' : undefined);
      const { units, files, bytes, first } = await catalogue.forget(volume, paths, how);
      // A store that had nothing to write has not shown that it can.
      if (files > 0 || units.length > 0) trouble.worked();
      if (first !== null) tell({ paths, files, bytes, first, passing });
      await regroup(units);
      touched(null);
      for (const project of new Set(placing()?.projectsOf(paths) ?? [])) touched(project);
    },
  };
}
