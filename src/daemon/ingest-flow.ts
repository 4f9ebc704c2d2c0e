import { messageOf } from '../core/fault.ts';
import type { Arrival, FileRecord, FileStat, PathText } from '../core/model.ts';
import type { CataloguePort, Clock, Log, RootEvent, RootPort, RootState } from '../core/ports.ts';
import type { ArrivalSettings, VolumeSettings } from '../settings/settings.ts';
import { type Placing, preparePlacing, type RuleTold } from './placing.ts';
import { createStoreTrouble } from './store-trouble.ts';
import { type Understood, understand } from './understand.ts';
import { createUnitBoard } from './unit-board.ts';
import { createUnreadable } from './unreadable.ts';

export interface IngestDeps {
  volume: VolumeSettings;
  limits: ArrivalSettings;
  root: RootPort;
  catalogue: CataloguePort;
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
  arrivals(): Arrival[];
  stop(): Promise<void>;
}

/** A store that refuses is asked again after this long. */
const retryMs = 5_000;

/** compare > place > note > settle > inspect > probe > facts > group > keep, for one volume. Events are taken in order. */
export function createIngestFlow(deps: IngestDeps): IngestFlow {
  const { catalogue, clock, log, root, volume } = deps;
  const unreadable = createUnreadable(volume.name, clock, log);
  const store = createStoreTrouble(log, () => {
    root.sweep().catch((error) => log.debug({ error: messageOf(error) }, 'sweep not begun'));
  });
  let current: { state: RootState; detail: string | null } = { state: 'starting', detail: null };
  let placing: Placing | null = null;
  let work: Promise<void> = Promise.resolve();
  let stopped = false;
  let sweptOnce = false;

  const board = createUnitBoard({
    volume: volume.name,
    limits: deps.limits,
    clock,
    log,
    inspect: (paths) => root.inspect(paths),
    read: async (unit, records, evidence) => {
      const files = await filesToRead(unit, records);
      const seen = new Set(records.map(({ path }) => path));
      return understand(files, seen, evidence, { root, log, at: clock.now });
    },
    keep,
    refused: async (records) => {
      await noteAll(records.map((record) => ({ ...record, state: 'refused' as const })));
    },
    changed: () => deps.touched(null),
  });

  /** A unit is read whole: with the files that settled earlier, as the records at hand say newer things of their own. */
  async function filesToRead(unit: string, records: readonly FileRecord[]): Promise<FileRecord[]> {
    const files = new Map<PathText, FileRecord>();
    try {
      for (const file of await catalogue.filesOfUnit(volume.name, unit)) {
        if (file.state !== 'refused') files.set(file.path, file);
      }
    } catch (error) {
      store.refused(error);
    }
    for (const record of records) files.set(record.path, record);
    return [...files.values()];
  }

  async function keep(unit: string, { files, clips, fresh }: Understood): Promise<void> {
    try {
      await catalogue.finishUnit(volume.name, unit, files, clips);
      store.worked();
    } catch (error) {
      store.refused(error);
      throw error;
    }
    for (const clip of clips.filter(({ name }) => fresh.has(name))) {
      log.info(
        {
          event: 'clip-ready',
          volume: volume.name,
          project: clip.project,
          file: absolute(clip.paths[0]),
          evidence: clip.evidence,
        },
        `Ready: ${clip.name}${clip.project === null ? '' : ` in ${clip.project}`}.`,
      );
    }
    for (const project of new Set(files.map((file) => file.project))) deps.touched(project);
  }

  function absolute(path: PathText | undefined): string {
    return `${volume.path}/${path ?? ''}`;
  }

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
        if (!sweptOnce) deps.swept(event);
        sweptOnce = true;
        return;
      case 'trouble':
        return log.warn({ volume: volume.name, trouble: event.kind }, event.detail);
    }
  }

  function takeState({ state, detail }: { state: RootState; detail: string | null }): void {
    if (state === current.state && detail === current.detail) return;
    const before = current.state;
    current = { state, detail };
    const why = detail === null ? '' : `: ${detail}`;
    if (state === 'live')
      log.info({ volume: volume.name, state }, `${volume.name} is ${before === 'starting' ? 'there' : 'there again'}.`);
    else if (state !== 'starting')
      log.warn(
        { volume: volume.name, state },
        `${volume.name} (${volume.path}) is ${state}${why}. What was known of it is kept.`,
      );
    deps.touched(null);
  }

  async function takeListing(event: Extract<RootEvent, { type: 'listing' }>): Promise<void> {
    placing ??= await decidePlacing(event);
    if (placing === null) return;
    const { place } = placing;
    unreadable.note(event.dir, event.unreadable);
    const dirs = event.dirs.filter((dir) => place(dir).area !== 'system');
    const diff = await catalogue.compareListing(volume.name, event.dir, counted(placing, event.files), dirs);
    // What cannot be read now is not gone.
    const gone = diff.gone.map(({ path }) => path).filter((path) => !isAtOrBelow(path, event.unreadable));
    if (gone.length > 0) await takeGone(gone);
    await takeFresh(diff.fresh);
  }

  /** The project rule rests on the names in the root folder, so nothing is placed before that was read. */
  async function decidePlacing(event: Extract<RootEvent, { type: 'listing' }>): Promise<Placing | null> {
    if (event.dir !== '') return null;
    const prepared = await preparePlacing(volume, event.dirs, catalogue);
    if (prepared.startOver) {
      log.info(
        { volume: volume.name },
        `What belongs where on ${volume.name} is set differently now: everything is looked at again.`,
      );
      await catalogue.forget(volume.name, ['']);
    }
    deps.ruleTold(prepared.told);
    return prepared.placing;
  }

  async function takeFresh(fresh: readonly FileStat[]): Promise<void> {
    if (placing === null || fresh.length === 0) return;
    const records = placing.records(fresh);
    await catalogue.putFiles(records);
    store.worked();
    board.seen(records.filter(({ state }) => state === 'arriving'));
    for (const project of new Set(records.map((record) => record.project))) deps.touched(project);
  }

  async function takeGone(paths: PathText[]): Promise<void> {
    board.gone(paths);
    const { units, files, bytes } = await catalogue.forget(volume.name, paths);
    if (files === 0) return;
    log.debug({ volume: volume.name, files, bytes }, 'no longer there');
    for (const unit of units) await regroup(unit);
    deps.touched(null);
    for (const project of new Set(placing?.projectsOf(paths) ?? [])) deps.touched(project);
  }

  /** A unit that lost some files is another clip now: it settles again with those that are left. */
  async function regroup(unit: string): Promise<void> {
    const left = await catalogue.filesOfUnit(volume.name, unit);
    board.resumed(left.filter(({ state }) => state === 'ready'));
  }

  async function noteAll(records: FileRecord[]): Promise<void> {
    try {
      await catalogue.putFiles(records);
    } catch (error) {
      store.refused(error);
    }
  }

  function enqueue(event: RootEvent): Promise<void> {
    work = work.then(async () => {
      while (!stopped) {
        try {
          return await takeEvent(event);
        } catch (error) {
          store.refused(error);
          await new Promise<void>((resolve) => void clock.after(retryMs, resolve));
        }
      }
    });
    return work;
  }

  return {
    async start() {
      const unfinished = await catalogue.unfinished(volume.name);
      root.start(enqueue);
      if (unfinished.length > 0)
        log.info(
          { volume: volume.name, files: unfinished.length },
          `${unfinished.length} files on ${volume.name} were still arriving; they are looked at again.`,
        );
      board.resumed(unfinished);
    },
    state: () => current,
    arrivals: () => [...board.arrivals(), ...unreadable.arrivals()],
    async stop() {
      stopped = true;
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
