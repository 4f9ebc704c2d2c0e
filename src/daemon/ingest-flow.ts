import { messageOf } from '../core/fault.ts';
import { baseName } from '../core/intake/path-text.ts';
import { isTemporaryName } from '../core/intake/system-names.ts';
import type { Arrival, FileRecord, FileStat, PathText } from '../core/model.ts';
import type { CataloguePort, Clock, Log, RootEvent, RootPort, RootState } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';
import { formatBytes, formatCount } from '../core/units.ts';
import type { ArrivalSettings, VolumeSettings } from '../settings/settings.ts';
import { type Placing, preparePlacing, type RuleTold } from './placing.ts';
import { createRootState } from './root-state.ts';
import type { StoreTrouble } from './store-trouble.ts';
import { createTaker } from './taker.ts';
import { createUnitBoard } from './unit-board.ts';
import { createUnreadable } from './unreadable.ts';

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
  /** The first sweep is through. */
  swept: (event: Extract<RootEvent, { type: 'swept' }>) => void;
}

export interface IngestFlow {
  start(): Promise<void>;
  state(): { state: RootState; detail: string | null };
  /** Every folder was read once since the start: until then what is known may be a part. */
  complete(): boolean;
  arrivals(): Arrival[];
  stop(): Promise<void>;
}

/** A store that refuses is asked again after this long. */
const retryMs = 5_000;

type Listing = Extract<RootEvent, { type: 'listing' }>;

/** compare > place > note > settle > inspect > probe > facts > group > keep, for one volume. Events are taken in order. */
export function createIngestFlow(deps: IngestDeps): IngestFlow {
  const { catalogue, clock, log, root, trouble, volume } = deps;
  const unreadable = createUnreadable(volume.name, clock, log);
  const state = createRootState(volume, log);
  const board = createUnitBoard({
    volume: volume.name,
    limits: deps.limits,
    clock,
    log,
    inspect: (paths) => root.inspect(paths),
    ...createTaker(deps),
    changed: () => deps.touched(null),
  });
  let placing: Placing | null = null;
  let work: Promise<void> = Promise.resolve();
  let cancelRetry = () => {};
  let complete = false;
  let stopped = false;

  async function takeEvent(event: RootEvent): Promise<void> {
    switch (event.type) {
      case 'state':
        return takeState(event);
      case 'listing':
        return takeListing(event);
      case 'files':
        if (placing !== null) await takeFresh(await catalogue.compareFiles(volume.name, counted(placing, event.files)));
        return;
      case 'gone':
        return takeGone(event.paths);
      case 'swept':
        return takeSwept(event);
      case 'trouble':
        return log.warn({ volume: volume.name, trouble: event.kind }, event.detail);
    }
  }

  async function takeState(event: Extract<RootEvent, { type: 'state' }>): Promise<void> {
    if (state.told(event.state, event.detail)) await resume();
    deps.touched(null);
  }

  async function takeSwept(event: Extract<RootEvent, { type: 'swept' }>): Promise<void> {
    state.swept();
    if (!complete) {
      complete = true;
      deps.swept(event);
      // Takes that lost a file while nobody watched: what is left of them is taken up.
      await resume();
    }
    deps.touched(null);
  }

  async function takeListing(event: Listing): Promise<void> {
    if (event.dir === '' && (await isStrangelyEmpty(event))) return;
    placing ??= await decidePlacing(event);
    if (placing === null) return;
    const { place } = placing;
    unreadable.note(event.dir, event.dirs, event.unreadable);
    const dirs = event.dirs.filter((dir) => place(dir).area !== 'system');
    const diff = await catalogue.compareListing(volume.name, event.dir, counted(placing, event.files), dirs);
    // What cannot be read now is not gone.
    const gone = diff.gone.map(({ path }) => path).filter((path) => !isAtOrBelow(path, event.unreadable));
    if (gone.length > 0) await takeGone(gone);
    await takeFresh(diff.fresh);
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
      await catalogue.forget(volume.name, ['']);
    }
    // Only now: a crash before this begins again.
    await prepared.keep();
    placing = prepared.placing;
    deps.ruleTold(prepared.told);
    await resume();
    return placing;
  }

  /** Takes up what is not ready, as it is placed now; what is left out meanwhile is forgotten. */
  async function resume(): Promise<void> {
    if (placing === null) return;
    const unfinished = await catalogue.unfinished(volume.name);
    if (unfinished.length === 0) return;
    const [left = [], kept = []] = [true, false].map((out) =>
      unfinished.filter(({ path }) => (placing?.place(path).area === 'system') === out),
    );
    if (left.length > 0)
      await catalogue.forget(
        volume.name,
        left.map(({ path }) => path),
      );
    board.resumed(placing.records(kept).map((record) => ({ ...record, state: 'arriving' })));
  }

  async function takeFresh(fresh: readonly FileStat[]): Promise<void> {
    if (placing === null || fresh.length === 0) return;
    const records = placing.records(fresh);
    await catalogue.putFiles(records);
    trouble.worked();
    const arriving = records.filter((record) => record.state === 'arriving');
    board.seen(arriving);
    if (complete) await takeCompanions(arriving);
    for (const project of new Set(records.map((record) => record.project))) deps.touched(project);
  }

  /** A file of a finished take changed: the others settle with it again, so that they stay a clip if it turns out bad. */
  async function takeCompanions(arriving: readonly FileRecord[]): Promise<void> {
    const seen = new Set(arriving.map(({ path }) => path));
    for (const unit of new Set(arriving.map((record) => record.unit))) {
      const others = (await catalogue.filesOfUnit(volume.name, unit)).filter(({ path }) => !seen.has(path));
      board.resumed(others.filter((file) => file.state === 'ready'));
    }
  }

  async function takeGone(paths: PathText[]): Promise<void> {
    board.gone(paths);
    unreadable.gone(paths);
    const { units, files, bytes } = await catalogue.forget(volume.name, paths);
    if (files === 0) return;
    const more = files > 1 ? ' and others' : '';
    // A copy's temporary name that goes is the end of the copy, no loss.
    const told = paths.every((path) => isTemporaryName(baseName(path))) ? log.debug : log.info;
    told.call(
      log,
      { event: 'gone', volume: volume.name, files, bytes },
      `No longer on ${display(volume.name)}: ${display(paths[0] ?? '')}${more} (${formatCount(files, 'file')}, ${formatBytes(bytes)}).`,
    );
    for (const unit of units) await regroup(unit);
    deps.touched(null);
    for (const project of new Set(placing?.projectsOf(paths) ?? [])) deps.touched(project);
  }

  /** A unit that lost some files is another clip now: it settles again with those that are left. */
  async function regroup(unit: string): Promise<void> {
    const left: FileRecord[] = await catalogue.filesOfUnit(volume.name, unit);
    board.resumed(left.filter((file) => file.state === 'ready'));
  }

  function enqueue(event: RootEvent): Promise<void> {
    work = work.then(async () => {
      while (!stopped) {
        try {
          return await takeEvent(event);
        } catch (error) {
          trouble.refused(error);
          deps.touched(null);
          await new Promise<void>((resolve) => {
            cancelRetry = clock.after(retryMs, resolve);
          });
        }
      }
    });
    return work;
  }

  return {
    async start() {
      trouble.onRecovered(() => {
        root.sweep().catch((error) => log.debug({ error: messageOf(error) }, 'sweep not begun'));
      });
      root.start(enqueue);
    },
    state: state.current,
    complete: () => complete,
    arrivals: () => [...board.arrivals(), ...unreadable.arrivals()],
    async stop() {
      stopped = true;
      cancelRetry();
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
