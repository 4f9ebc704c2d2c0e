import { messageOf } from '../../core/fault.ts';
import type { FileRecord, FileStat, PathText } from '../../core/model.ts';
import { display } from '../../core/present/escape.ts';
import type { RootEvent } from '../../core/root-port.ts';
import type { FilesPage } from '../../core/store-ports.ts';
import { inTurns } from '../turns.ts';
import { createDepartures } from './departures.ts';
import { createEventQueue } from './event-queue.ts';
import { createFreshFiles } from './fresh-files.ts';
import type { IngestDeps } from './ingest-deps.ts';
import { createLosses } from './losses.ts';
import { createMoves } from './moves.ts';
import { type Placing, preparePlacing } from './placing.ts';
import { createRootState, type RootNow } from './root-state.ts';
import type { ShownArrivals } from './shown-arrivals.ts';
import { createTaker } from './taker.ts';
import { createUnitBoard } from './unit-board.ts';
import { createUnreadable } from './unreadable.ts';

export interface IngestFlow {
  start(): Promise<void>;
  state(): RootNow;
  /** Every folder was read once since the start: until then what is known may be a part. */
  complete(): boolean;
  /** With lines for whatever these paths belong to. */
  arrivals(about: Iterable<PathText>): ShownArrivals;
  stop(): Promise<void>;
}

/** So many files that took the places of others are held back at the most. */
const heldAtMost = 10_000;

type Listing = Extract<RootEvent, { type: 'listing' }>;
/** At and below these paths; of takes that lost a file. */
type Resumed = { below?: PathText[]; only?: 'broken' | null };

/** compare > place > note > settle > inspect > probe > facts > group > keep, for one volume. Events are taken in order. */
export function createIngestFlow(deps: IngestDeps): IngestFlow {
  const { catalogue, clock, log, root, trouble, volume } = deps;
  const unreadable = createUnreadable(volume.name, clock, log);
  const state = createRootState(volume, log);
  const taker = createTaker(deps);
  const board = createUnitBoard({
    volume: volume.name,
    limits: deps.limits,
    clock,
    log,
    inspect: (paths) => root.inspect(paths),
    ...taker,
    left: (unit) => freshFiles.left(unit),
    recall: (units) => catalogue.filesOfUnits(volume.name, units),
    changed: deps.arrivalsChanged,
  });
  const parts = { ...deps, volume: volume.name, board, placing: () => placing, complete: () => complete };
  const queue = createEventQueue({
    take: takeEvent,
    clock,
    refused(error) {
      trouble.refused(error);
      deps.touched(null);
    },
    readAll,
    ...(deps.mark === undefined ? {} : { mark: deps.mark }),
  });
  const freshFiles = createFreshFiles(parts);
  const moves = createMoves({ ...parts, takeFresh, due: () => void queue.run(takeMoves) });
  const departures = createDepartures({ ...parts, complete: () => allRead, due: () => void queue.run(takeDepartures) });
  const losses = createLosses({ ...parts, log });
  /** Files that a listing showed in the place of known ones, which may turn up elsewhere first. By path. */
  const held = new Map<PathText, FileStat>();
  let placing: Placing | null = null;
  let complete = false;
  /** Every folder was read once since the root was there last: what moved meanwhile was found. */
  let allRead = false;
  let stopped = false;

  async function takeEvent(event: RootEvent): Promise<void> {
    switch (event.type) {
      case 'state':
        return takeState(event);
      case 'listing':
        return takeListing(event);
      case 'files':
        return takeFiles(event.open === true ? event.files.filter(isNotGrowth) : event.files);
      case 'gone':
        return takeGone(event.paths);
      case 'swept':
        return takeSwept(event);
      default:
        return state.trouble(event);
    }
  }

  async function takeState(event: Extract<RootEvent, { type: 'state' }>): Promise<void> {
    allRead = false;
    if (state.told(event.state, event.detail)) await resume();
    deps.touched(null);
  }

  async function takeSwept(event: Extract<RootEvent, { type: 'swept' }>): Promise<void> {
    state.swept();
    allRead = true;
    if (!complete) {
      complete = true;
      deps.swept(event);
      // Takes that lost a file while nobody watched: what is left of them is taken up. The others are under way.
      await resume({ only: 'broken' });
    }
    await takeDepartures();
    deps.touched(null);
  }

  async function takeListing(event: Listing): Promise<void> {
    if (event.dir === '' && (await isStrangelyEmpty(event))) return;
    if (event.files.length > 0) state.filled();
    placing ??= await decidePlacing(event);
    if (placing === null) return;
    const here = placing;
    unreadable.note(event.dir, event.dirs, event.unreadable);
    const dirs = event.dirs.filter((dir) => here.place(dir).area !== 'system');
    const files = await inTurns(event.files, (some) => counted(here, some));
    departures.seen(event.files.map(({ path }) => path));
    departures.seen(event.dirs);
    const diff = await catalogue.compareListing(volume.name, event.dir, files, dirs);
    moves.found(diff.moved);
    departures.foundElsewhere(diff.moved.map(({ from }) => from));
    await takeFresh([...diff.fresh, ...hold(diff.replacing)], true);
    // What cannot be read now is not gone.
    const gone = diff.gone.filter((path) => !isAtOrBelow(path, event.unreadable));
    if (gone.length === 0) return;
    await leave(gone);
    departures.unlisted(event, gone);
  }

  const isNotGrowth = (file: FileStat) => placing?.records([file]).some((record) => board.grown(record)) !== true;

  async function takeFiles(files: readonly FileStat[]): Promise<void> {
    if (placing === null || files.length === 0) return;
    state.filled();
    departures.seen(files.map(({ path }) => path));
    const diff = await catalogue.compareFiles(volume.name, counted(placing, files));
    moves.found(diff.moved);
    departures.foundElsewhere(diff.moved.map(({ from }) => from));
    await takeFresh([...diff.fresh, ...diff.replacing]);
    for (const { path } of files) held.delete(path);
  }

  /** Those that are not held back: the first so many wait until the files whose places they took were looked for. */
  function hold(replacing: readonly FileStat[]): FileStat[] {
    const room = heldAtMost - held.size;
    for (const file of replacing.slice(0, room)) held.set(file.path, file);
    if (replacing.length > 0) departures.wait();
    return replacing.slice(Math.max(0, room));
  }

  /** An unmounted drive leaves its empty mount point behind. Nothing is forgotten for that: it may be the wrong folder. */
  async function isStrangelyEmpty({ dirs, files, unreadable: closed }: Listing): Promise<boolean> {
    if (dirs.length > 0 || files.length > 0 || closed.length > 0) {
      state.filled();
      return false;
    }
    const known = (await catalogue.counts(volume.name)).files;
    const held = state.emptied(known);
    if (held) deps.touched(null);
    return held;
  }

  /** The project rule rests on the names in the root folder, so nothing is placed before that was read. */
  async function decidePlacing(event: Listing): Promise<Placing | null> {
    if (event.dir !== '') return null;
    const prepared = await preparePlacing(volume, event.dirs, catalogue);
    if (prepared.startOver) {
      log.info(
        { volume: volume.name },
        `Projects and folders of ${display(volume.name)} are divided differently now: all is read again.`,
      );
      await catalogue.forget(volume.name, [''], 'left-out');
    }
    // Only now: a crash before this begins again.
    await prepared.keep();
    placing = prepared.placing;
    deps.ruleTold(prepared.told);
    await resume();
    return placing;
  }

  /** Takes up what is not ready, of all or some, as it is placed now; what is left out meanwhile is forgotten. */
  async function resume({ below, only = null }: Resumed = {}): Promise<void> {
    let after: string | null = null;
    do {
      const part: FilesPage =
        below === undefined
          ? await catalogue.unfinished(volume.name, only, after)
          : await catalogue.filesBelow(volume.name, below, 'unfinished', after);
      await resumeSome(part.files);
      after = part.next;
    } while (after !== null && !stopped);
  }

  async function resumeSome(unfinished: readonly FileRecord[]): Promise<void> {
    if (placing === null) return;
    const { place, records } = placing;
    const left = await inTurns(unfinished, (some) => {
      const isLeft = ({ path }: FileRecord) => place(path).area === 'system';
      board.resumed(records(some.filter((file) => !isLeft(file))).map((record) => ({ ...record, state: 'arriving' })));
      return some.filter(isLeft).map(({ path }) => path);
    });
    if (left.length > 0) await catalogue.forget(volume.name, left, 'left-out');
  }

  async function takeFresh(files: readonly FileStat[], listed = false): Promise<void> {
    const paths = files.map(({ path }) => path);
    // A move from there, or to there, comes first: what is known would be lost with what is put in its place.
    if (moves.concerns(paths)) await moves.flush(paths);
    await freshFiles.take(files, listed);
    if (files.length > 0) deps.noticed(files);
  }

  async function takeGone(paths: PathText[]): Promise<void> {
    await leave(paths);
    departures.hinted(paths);
  }

  /** Files, or folders with all below them, are not where they were. Only what was renamed since is forgotten at once. */
  async function leave(paths: PathText[]): Promise<void> {
    board.gone(paths);
    unreadable.gone(paths);
    await losses.renamed(paths);
  }

  /** In the place of what is held back another file was known before. */
  const takeMoves = () => moves.flush([...held.keys()]);

  async function takeDepartures(): Promise<void> {
    await takeMoves();
    await departures.resolve(async ({ gone, files, back }) => {
      await losses.forget(gone);
      await losses.forget(files, 'files');
      if (back.length > 0) await resume({ below: back });
      const replacing = [...held.values()];
      if (replacing.length > 0) await takeFiles(replacing);
    });
  }

  function readAll(): void {
    root.sweep().catch((error) => log.debug({ error: messageOf(error) }, 'sweep not begun'));
  }

  return {
    async start() {
      trouble.onRecovered(readAll);
      root.start(queue.receive);
    },
    state: state.current,
    complete: () => complete,
    arrivals(about) {
      const shown = board.arrivals(about);
      const closed = unreadable.arrivals();
      return { ...shown, lines: [...shown.lines, ...closed], pending: shown.pending + closed.length };
    },
    async stop() {
      stopped = true;
      queue.stop();
      moves.stop();
      departures.stop();
      board.stop();
      await root.stop();
    },
  };
}

function isAtOrBelow(path: PathText, places: readonly { path: PathText }[]): boolean {
  return places.some((place) => place.path === '' || path === place.path || path.startsWith(`${place.path}/`));
}

/** Files that count at all. What the system keeps for itself is as if it were not there. */
function counted(placing: Placing, files: readonly FileStat[]): FileStat[] {
  return files.filter(({ path }) => placing.place(path).area !== 'system');
}
