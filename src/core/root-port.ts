import type { InventoryFile } from './cards/inventory.ts';
import type { Structure } from './intake/container/structure.ts';
import type { FileStat, PathText, Space } from './model.ts';

/* A root: one watched folder tree. All path I/O on it happens behind this port. */

export type RootState = 'starting' | 'live' | 'absent' | 'hung';

export type RootEvent =
  | { type: 'state'; state: RootState; detail: string | null }
  /** The complete content of one folder, as read. `unreadable` names what could not be read and why. */
  | {
      type: 'listing';
      dir: PathText;
      files: FileStat[];
      dirs: PathText[];
      unreadable: { path: PathText; error: string }[];
    }
  /**
   * Some files were touched; nothing is said about their neighbours. `open`: a process was just now seen to have each of them
   * open for writing, and that it closes them will be told.
   */
  | { type: 'files'; files: FileStat[]; open?: true }
  /** These are no longer there (a file, or a folder with all below it). A hint: the next listing is the truth. */
  | { type: 'gone'; paths: PathText[] }
  /** A sweep of every folder is through: the first after a start, and each later one. */
  | { type: 'swept'; folders: number; files: number; seconds: number }
  | { type: 'trouble'; kind: 'watch-limit' | 'watch-error' | 'other-file-system'; detail: string }
  /** A limit of the system leaves folders without a watch, or does no longer (`null`). */
  | { type: 'watch-limit'; limit: WatchLimit | null };

/** A limit that is used up: its name below fs.inotify, how many folders are without a watch, and what it is to be raised to. */
export interface WatchLimit {
  name: string;
  folders: number;
  wanted: number;
}

/** May a process still write this file? `unknown` on remote mounts and for other users' processes. */
export type Writers = 'none' | 'open' | 'unknown';

/** What a file's own structure says. `no-structure`: this container cannot tell. */
export type Wholeness = 'whole' | 'cut' | 'unwritten' | 'empty' | 'not-media' | 'no-structure';

export interface Evidence {
  path: PathText;
  /** `null`: gone, or unreadable with `error`. */
  stat: FileStat | null;
  error: string | null;
  writers: Writers;
  wholeness: Wholeness;
  /** What was found, in words: "box mdat ends at 1,200 of 900 bytes". */
  detail: string | null;
}

/** What a file told, unread: core/intake/know.ts reads it. One of the two has something, mostly both. */
export interface RawProbe {
  /** What the container's own structure tells; `null`: this container is not read here. */
  structure: Structure | null;
  /** The media reader's answer, parsed JSON: its `media.track` array. Empty where it told nothing. */
  tracks: Record<string, unknown>[];
  /** Why the media reader told nothing, in words. */
  readerTrouble: string | null;
}

export type ProbeOutcome =
  | { ok: true; raw: RawProbe; stat: FileStat }
  | { ok: false; reason: 'unreadable' | 'probe-failed' | 'not-media' | 'changed-meanwhile'; detail: string };

/** `base`: the folder its paths begin at; `gap`: what of it could not be used. `detail` says what is wrong, and where. */
export type ManifestOutcome =
  | { ok: true; base: PathText; files: InventoryFile[]; gap: string | null }
  | { ok: false; reason: 'unreadable' | 'not-a-manifest' | 'damaged' | 'too-large'; detail: string };

/** The content of a small file that is read whole, such as a list on a card. */
export type ContentOutcome = { ok: true; bytes: Uint8Array } | { ok: false; detail: string };

export interface RootPort {
  /** A listener that returns a promise slows the sweep down to its own pace. */
  start(onEvent: (event: RootEvent) => void | Promise<void>): void;
  /**
   * Looks at each file: stat, writers, structure. A writer that was seen may still count half a second after it closed the
   * file; that it did is then told by a `files` event. Never rejects for one file. Rejects while the root is away, and when it
   * goes away meanwhile: nothing was found out of any file then, and they are asked for again later.
   */
  inspect(paths: PathText[]): Promise<Evidence[]>;
  /** Reads a clip's facts. Rejects as `inspect` does; every other failure is told as an outcome. */
  probe(file: FileStat): Promise<ProbeOutcome>;
  space(): Promise<Space>;
  /** Those of the files and folders that are not there now. Rejects as `inspect` does: nothing is known then. */
  missing(paths: PathText[]): Promise<PathText[]>;
  /** Reads a manifest that lies on the volume. Rejects as `inspect` does; a manifest that cannot be used is an outcome. */
  manifest(file: FileStat): Promise<ManifestOutcome>;
  /** Reads a small file whole. Rejects as `inspect` does; one that is too large or cannot be read is an outcome. */
  content(file: FileStat): Promise<ContentOutcome>;
  /** Reads every folder again; resolves when through. */
  sweep(): Promise<void>;
  stop(): Promise<void>;
}
