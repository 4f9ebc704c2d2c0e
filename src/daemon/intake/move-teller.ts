import { type MoveGroup, type MoveTally, moveGroups, tallyMove } from '../../core/intake/move-groups.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { RootPort } from '../../core/root-port.ts';
import { formatBytes, formatCount } from '../../core/units.ts';

/** Says what was moved: one line for a move, however many files it was and in however many steps they were found. */
export interface MoveTeller {
  note(moved: readonly { from: PathText; file: { path: PathText; size: number } }[]): void;
  stop(): void;
}

/** A move is through when nothing more of it was found for so long; a very long one is told in parts. */
const quietMs = 2_000;
const mostMs = 30_000;
const linesAtMost = 5;

export function createMoveTeller({
  volume,
  root,
  clock,
  log,
}: {
  volume: string;
  root: Pick<RootPort, 'missing'>;
  clock: Clock;
  log: Log;
}): MoveTeller {
  let tally: MoveTally = new Map();
  let since = 0;
  let cancel = () => {};
  const name = display(volume);

  async function tell(): Promise<void> {
    const groups = moveGroups(tally);
    tally = new Map();
    const told = groups.slice(0, linesAtMost);
    const away = await oldFoldersAway(told);
    for (const found of told) {
      const group = { ...found, ...found.above.find(({ from }) => away.has(from)) };
      const { from, to, files, bytes } = group;
      const fields = { event: 'moved', volume, files, bytes, from, to };
      log.info(fields, `Moved on ${name}: ${sentence(group, away.has(from))} (${amount(group)}).`);
    }
    const rest = groups.slice(linesAtMost);
    if (rest.length === 0) return;
    const files = rest.reduce((sum, group) => sum + group.files, 0);
    const bytes = rest.reduce((sum, group) => sum + group.bytes, 0);
    log.info(
      { event: 'moved', volume, files, bytes, from: null, to: null },
      `Moved on ${name}: and ${rest.length} more (${amount({ files, bytes })}).`,
    );
  }

  /** A folder that is there no more was moved as a whole; of one that is still there only some of the files were. */
  async function oldFoldersAway(groups: readonly MoveGroup[]): Promise<ReadonlySet<PathText>> {
    const trees = groups.filter(({ of }) => of === 'tree');
    const folders = trees
      .flatMap(({ from, above }) => [...above.map((each) => each.from), from])
      .filter((path) => path !== '');
    if (folders.length === 0) return new Set();
    return new Set(await root.missing(folders).catch(() => []));
  }

  return {
    note(moved) {
      if (moved.length === 0) return;
      if (tally.size === 0) since = clock.ticks();
      for (const { from, file } of moved) tallyMove(tally, { from, to: file.path, bytes: file.size });
      cancel();
      cancel = clock.after(Math.min(quietMs, Math.max(0, since + mostMs - clock.ticks())), () => void tell());
    },
    stop: () => cancel(),
  };
}

function sentence({ from, to, of }: MoveGroup, isAway: boolean): string {
  const [was, is] = [folderName(from), folderName(to)];
  if (of === 'file' || (of === 'tree' && isAway)) return `${was} is now ${is}`;
  if (of === 'names' && from === to) return `files in ${was} have other names`;
  return `from ${was} to ${is}${of === 'names' ? ', under other names' : ''}`;
}

function folderName(path: PathText): string {
  return path === '' ? 'the top folder' : display(path);
}

function amount({ files, bytes }: { files: number; bytes: number }): string {
  return `${formatCount(files, 'file')}, ${formatBytes(bytes)}`;
}
