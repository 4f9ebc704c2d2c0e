import { baseName, dirName } from '../../src/core/intake/path-text.ts';
import type { FileStat, PathText, Space } from '../../src/core/model.ts';
import type {
  ContentOutcome,
  Evidence,
  ManifestOutcome,
  ProbeOutcome,
  RootEvent,
  RootPort,
  RootState,
} from '../../src/core/root-port.ts';

/** What is known of a fake file beside its stat. */
export interface FakeContent {
  size: number;
  wholeness?: Evidence['wholeness'];
  detail?: string | null;
  writers?: Evidence['writers'];
  /** `inspect` cannot read it, and says this. */
  error?: string | null;
  probe?: ProbeOutcome;
  manifest?: ManifestOutcome;
  content?: ContentOutcome;
}

export interface FakeRoot extends RootPort {
  /** Writes a file, with its folders, and tells of it as the watch would. A second write changes size and times. */
  put(path: PathText, content: FakeContent): void;
  /** The same, unnoticed: only a sweep tells of it. */
  putUnseen(path: PathText, content: FakeContent): void;
  /** Renames a file, or a folder with all below it, and tells of it as the watch would; replaces what was there. */
  rename(from: PathText, to: PathText): void;
  /** The same, unnoticed. */
  renameUnseen(from: PathText, to: PathText): void;
  /** Removes a file, or a folder with all below it, and tells of it. */
  remove(path: PathText): void;
  setSpace(space: Space): void;
  /** `absent` and `hung` refuse what is asked; `live` begins with a sweep. */
  setState(state: RootState, detail?: string | null): void;
  /** Sends an event as it is. */
  tell(event: RootEvent): void;
  /** Resolves when the listener is through with all that was told. */
  settled(): Promise<void>;
  readonly probed: readonly PathText[];
}

interface Entry extends FakeContent {
  stat: FileStat;
}

const NS = 1_000_000_000n;

/** A root in memory. It tells at once, in order, and waits for a listener that returns a promise. */
export function fakeRoot(): FakeRoot {
  const files = new Map<PathText, Entry>();
  const probed: PathText[] = [];
  let listener: ((event: RootEvent) => void | Promise<void>) | null = null;
  let told: Promise<void> = Promise.resolve();
  let state: RootState = 'starting';
  let why: string | null = null;
  let space: Space = { totalBytes: 8e12, freeBytes: 5e12, availableBytes: 5e12 };
  // Never a whole second: those are the stamps of coarse file systems.
  let ticks = 1n;
  let inodes = 0n;

  const tell = (event: RootEvent): void => {
    told = told.then(() => listener?.(event));
  };

  const write = (path: PathText, content: FakeContent): FileStat => {
    ticks += NS;
    const earlier = files.get(path)?.stat;
    if (earlier === undefined) inodes += 1n;
    const { size } = content;
    const time = 1_800_000_000n * NS + ticks;
    const ino = earlier?.ino ?? inodes;
    const stat = { path, size, allocated: size, mtimeNs: time, ctimeNs: time, dev: 64n, ino, nlink: 1 };
    files.set(path, { ...content, stat });
    return stat;
  };

  const folders = (): Set<PathText> => {
    const found = new Set<PathText>(['']);
    for (const path of files.keys()) for (let dir = dirName(path); dir !== ''; dir = dirName(dir)) found.add(dir);
    return found;
  };

  const sweep = async (): Promise<void> => {
    const all = folders();
    for (const dir of all) {
      const inside = [...files.values()].map(({ stat }) => stat).filter(({ path }) => dirName(path) === dir);
      const dirs = [...all].filter((path) => path !== '' && dirName(path) === dir && baseName(path) !== '');
      tell({ type: 'listing', dir, files: inside, dirs, unreadable: [] });
    }
    tell({ type: 'swept', folders: all.size, files: files.size, seconds: 0 });
    await told;
  };

  const refusal = (): Error | null =>
    listener === null || state !== 'live' ? new Error(why ?? `the root is ${state}`) : null;

  const evidenceOf = (path: PathText): Evidence => {
    const entry = files.get(path);
    const unknown = { path, writers: 'unknown', wholeness: 'no-structure', detail: null } as const;
    if (entry === undefined) return { ...unknown, stat: null, error: null };
    const { stat, error = null, writers = 'none', wholeness = 'whole', detail = null } = entry;
    return error === null ? { path, stat, error, writers, wholeness, detail } : { ...unknown, stat, error };
  };

  /** As a file system does: the inode stays, the change time of what itself was renamed does not. Returns where all is now. */
  const rename = (from: PathText, to: PathText): FileStat[] => {
    ticks += NS;
    const moved = [...files].filter(([path]) => path === from || path.startsWith(`${from}/`));
    for (const [path] of moved) files.delete(path);
    return moved.map(([path, entry]) => {
      const ctimeNs = path === from ? 1_800_000_000n * NS + ticks : entry.stat.ctimeNs;
      const stat = { ...entry.stat, path: to + path.slice(from.length), ctimeNs };
      files.set(stat.path, { ...entry, stat });
      return stat;
    });
  };

  const setState = (next: RootState, detail: string | null = null): void => {
    state = next;
    why = detail;
    tell({ type: 'state', state: next, detail });
    if (next === 'live') void sweep();
  };

  return {
    probed,
    start(onEvent) {
      if (listener !== null) return;
      listener = onEvent;
      tell({ type: 'state', state: 'starting', detail: null });
      setState('live');
    },
    async inspect(paths) {
      const refused = refusal();
      if (refused !== null) throw refused;
      return paths.map(evidenceOf);
    },
    async probe(file) {
      const refused = refusal();
      if (refused !== null) throw refused;
      probed.push(file.path);
      const gone: ProbeOutcome = { ok: false, reason: 'unreadable', detail: 'ENOENT: no such file or directory' };
      const entry = files.get(file.path);
      if (entry === undefined) return gone;
      const tracks = [{ '@type': 'General', path: file.path }, { '@type': 'Video' }];
      return entry.probe ?? { ok: true, raw: { structure: null, tracks, readerTrouble: null }, stat: entry.stat };
    },
    async content(file) {
      const refused = refusal();
      if (refused !== null) throw refused;
      return files.get(file.path)?.content ?? { ok: false, detail: 'no such file or directory (ENOENT)' };
    },
    async missing(paths) {
      const refused = refusal();
      if (refused !== null) throw refused;
      const there = folders();
      return paths.filter((path) => !files.has(path) && !there.has(path));
    },
    async manifest(file) {
      const refused = refusal();
      if (refused !== null) throw refused;
      return (
        files.get(file.path)?.manifest ?? { ok: false, reason: 'not-a-manifest', detail: 'it is no list of files' }
      );
    },
    async space() {
      const refused = refusal();
      if (refused !== null) throw refused;
      return space;
    },
    async sweep() {
      const refused = refusal();
      if (refused !== null) throw refused;
      await sweep();
    },
    async stop() {
      listener = null;
    },
    put(path, content) {
      const stat = write(path, content);
      if (refusal() === null) tell({ type: 'files', files: [stat] });
    },
    putUnseen: (path, content) => void write(path, content),
    rename(from, to) {
      const moved = rename(from, to);
      if (refusal() !== null) return;
      tell({ type: 'files', files: moved });
      tell({ type: 'gone', paths: [from] });
    },
    renameUnseen: (from, to) => void rename(from, to),
    remove(path) {
      for (const known of files.keys()) if (known === path || known.startsWith(`${path}/`)) files.delete(known);
      if (refusal() === null) tell({ type: 'gone', paths: [path] });
    },
    setSpace: (next) => {
      space = next;
    },
    setState,
    tell,
    settled: () => told,
  };
}
