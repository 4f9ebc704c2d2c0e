import { messageOf } from '../../core/fault.ts';
import { baseName } from '../../core/intake/path-text.ts';
import { isTemporaryName } from '../../core/intake/system-names.ts';
import type { FileRecord, FileStat, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { RootPort } from '../../core/root-port.ts';
import type { CataloguePort, Move, MovedFile } from '../../core/store-ports.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import { askMissing } from './ask-missing.ts';
import { createMoveTeller } from './move-teller.ts';
import type { Placing } from './placing.ts';
import type { UnitBoard } from './unit-board.ts';

export interface MovesDeps {
  volume: string;
  root: Pick<RootPort, 'missing'>;
  catalogue: Pick<CataloguePort, 'moveFiles' | 'filesOfUnits'>;
  board: UnitBoard;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  placing: () => Placing | null;
  /** Takes files as new: what seemed to be a move was none. */
  takeFresh: (files: readonly FileStat[]) => Promise<void>;
  touched: (project: string | null) => void;
  noticed: (files: readonly FileStat[]) => void;
  /** Has `flush` called in its turn. */
  due: () => void;
}

/** Files that were found under other paths than they are known by. They are taken over together, when no more come. */
export interface Moves {
  found(moved: readonly MovedFile[]): void;
  /** Whether one of these paths is where a found file is known, or where it was found. */
  concerns(paths: readonly PathText[]): boolean;
  /** Takes over what was found. `replaced`: paths that have another content now. Rejects when the store refuses. */
  flush(replaced?: readonly PathText[]): Promise<void>;
  stop(): void;
}

/** A tool that moves many files moves one after the other: a take without its sidecar, half a sequence, soon is whole. */
const quietMs = 300;
const mostMs = 1_500;
/** So many are placed at a time; the loop gets its turn in between. */
const slice = 1_000;

export function createMoves(deps: MovesDeps): Moves {
  const { board, catalogue, clock, log, root, trouble, volume } = deps;
  const teller = createMoveTeller({ volume, root, clock, log });
  /** By new path. */
  const pending = new Map<PathText, MovedFile>();
  /** Old paths of those. */
  const sources = new Set<PathText>();
  let since = 0;
  let cancel = () => {};

  function drop(moved: readonly MovedFile[]): void {
    for (const { file, from } of moved) {
      pending.delete(file.path);
      sources.delete(from);
    }
  }

  /**
   * What is told of a file may be older than its next rename. A file is taken as moved when it is there, and its old path
   * is free or has another content; as new when its old path seems to be as it was. `null`: the volume is away.
   */
  async function verify(found: readonly MovedFile[], replaced: ReadonlySet<PathText>) {
    const targets = new Set(found.map(({ file }) => file.path));
    let away: ReadonlySet<PathText>;
    try {
      // Old paths first: of a file that goes back between the two questions neither is there, and nothing is done.
      away = await askMissing(root, [...found.map(({ from }) => from), ...targets]);
    } catch (error) {
      log.debug({ volume, error: messageOf(error) }, 'moves are not looked at: all is read again when it is back');
      return null;
    }
    const there = found.filter(({ file }) => !away.has(file.path));
    const left = ({ from }: MovedFile) => away.has(from) || replaced.has(from) || targets.has(from);
    return { moved: there.filter(left), fresh: there.filter((each) => !left(each)).map(({ file }) => file) };
  }

  async function keep(placing: Placing, moved: readonly MovedFile[]): Promise<FileStat[]> {
    const moves: Move[] = [];
    for (let at = 0; at < moved.length; at += slice) {
      if (at > 0) await new Promise<void>((resolve) => setImmediate(resolve));
      for (const move of placedMoves(placing, moved.slice(at, at + slice))) moves.push(move);
    }
    board.gone(moved.flatMap(({ file, from }) => [from, file.path]));
    const { left, again } = await catalogue.moveFiles(volume, moves);
    trouble.worked();
    const notMoved = new Set(left);
    const kept = moves.filter(({ file }) => !notMoved.has(file.path));
    board.seen(kept.map(({ file }) => file).filter(({ state }) => state === 'arriving'));
    if (again.length > 0) {
      const files = await catalogue.filesOfUnits(volume, again);
      board.resumed(files.filter(({ state }) => state === 'ready'));
    }
    teller.note(kept);
    deps.noticed(kept.map(({ file }) => file));
    const projects = [...placing.projectsOf(kept.map(({ from }) => from)), ...kept.map(({ file }) => file.project)];
    for (const project of new Set([null, ...projects])) deps.touched(project);
    return moved.map(({ file }) => file).filter(({ path }) => notMoved.has(path));
  }

  return {
    found(moved) {
      if (moved.length === 0) return;
      if (pending.size === 0) since = clock.ticks();
      for (const each of moved) {
        pending.set(each.file.path, each);
        sources.add(each.from);
      }
      cancel();
      cancel = clock.after(Math.min(quietMs, Math.max(0, since + mostMs - clock.ticks())), deps.due);
    },
    concerns: (paths) => pending.size > 0 && paths.some((path) => sources.has(path) || pending.has(path)),
    async flush(replaced = []) {
      const found = [...pending.values()];
      const placing = deps.placing();
      if (found.length === 0 || placing === null) return;
      const checked = await verify(found, new Set(replaced));
      const left = checked === null || checked.moved.length === 0 ? [] : await keep(placing, checked.moved);
      drop(found);
      await deps.takeFresh([...(checked?.fresh ?? []), ...left]);
    },
    stop() {
      cancel();
      teller.stop();
    },
  };
}

/**
 * The moved files as they are placed now. One that nobody waited for where it was (in a cache, in the trash), but would
 * where it is, has never been looked at: it arrives there. So does one with the name of an unfinished copy.
 */
function placedMoves(placing: Placing, moved: readonly MovedFile[]): Move[] {
  const before = placing.records(moved.map(({ file, from }) => ({ ...file, path: from })));
  const now = placing.records(moved.map(({ file }) => file));
  return now.map((file, at): Move => {
    const wasSettled = before[at]?.state === 'arriving' || file.state === 'ready';
    const state: FileRecord['state'] = wasSettled && !isTemporaryName(baseName(file.path)) ? 'ready' : 'arriving';
    return { from: moved[at]?.from ?? '', file: { ...file, state } };
  });
}
