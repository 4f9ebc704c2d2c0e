/** Settings as the daemon uses them: parsed, defaults filled in, units resolved to bytes and seconds. Contract of this room. */
export interface Settings {
  volumes: VolumeSettings[];
  arrivals: ArrivalSettings;
  cards: CardSettings;
  thresholds: ThresholdSettings;
  /** `metrics`: they are told without the page's token. */
  page: { enabled: boolean; port: number; metrics: boolean };
  log: { level: 'debug' | 'info' | 'warn' | 'error' };
}

/** A working volume (or a folder on one). */
export interface VolumeSettings {
  name: string;
  /** Absolute. */
  path: string;
  /** Which folders are projects: `*` first level, `*` + `/*` + ... deeper, `.` the folder itself; `guess` when not said. */
  projects: string;
  /** Folders below `path` that are watched; empty: everything. */
  ingest: string[];
  /** Patterns that are neither counted nor watched, on top of the built-in system names. `*`, `**` and `?` are understood. */
  ignore: string[];
  /** First-level folders that belong to no project, on top of the built-in ones. */
  shared: string[];
  /** What is in folders of these names, anywhere below a project or outside of all. */
  kinds: Partial<Record<ConfiguredKind, string[]>>;
  /** Room kept free: a share of the volume (0..1) or bytes. */
  reserve: { share: number } | { bytes: number };
  /** Declared layout; only where it cannot be detected. */
  layout: {
    level: '0' | '1' | '4' | '5' | '6' | '10' | 'single';
    members: number;
    drive: 'nvme' | 'ssd' | 'hdd';
    link: string | null;
  } | null;
  /** Declared speed, bytes per second; `null` when not declared. */
  speed: { readBps: number; writeBps: number } | null;
  /** Projects that are cut as multicam: their angles are played together. */
  multicam: string[];
  /** Share of the speed kept free (default 0.3). */
  speedReserve: number;
}

/** Kinds that a folder may be said to hold. */
export type ConfiguredKind = 'original' | 'proxy' | 'render' | 'cache' | 'graphics';

/** When an arrival counts as complete. All in seconds. */
export interface ArrivalSettings {
  /** No change for this long before anything is looked at (0.3). */
  quiet: number;
  /** The same where the container cannot tell whether it is whole (2). */
  quietWithoutStructure: number;
  /** The same where writers cannot be seen: network and FUSE mounts (30). */
  quietRemote: number;
  /** Incomplete and quiet for this long: stalled (600). */
  stalledAfter: number;
  /** Folder times are looked at this often (10). */
  sweepEvery: number;
  /** Every folder is read again this often (900). */
  fullSweepEvery: number;
}

export interface CardSettings {
  /** Are mounted cards looked at? */
  look: boolean;
  /** Folders below which cards are mounted, absolute. */
  under: string[];
}

export interface ThresholdSettings {
  /** Speed demand over budget before it is told, and cleared, as shares of the budget (1.0, 0.9). */
  speedRaise: number;
  speedClear: number;
  /** How long a condition must hold before it is raised, and cleared, in seconds (speed: 20, 60). */
  raiseAfter: number;
  clearAfter: number;
  /** Recording time of a working session, seconds; `null`: as plans say and shoot days were. */
  sessionSeconds: number | null;
  /** Verified copies wanted of each piece of footage; `null`: two, and one on volumes whose shelves lie on one drive. */
  wantedCopies: number | null;
}

/** One thing wrong in a configuration. */
export interface SettingsProblem {
  /** 1-based; `null` for a problem of the file as a whole. */
  line: number | null;
  column: number | null;
  /** `volume[0].reserve` */
  key: string;
  expected: string;
  found: string;
  /** "did you mean ...", or `null`. */
  hint: string | null;
}
