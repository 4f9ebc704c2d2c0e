import type { PathText } from '../../core/model.ts';

/** What a watch of folders tells. It tells of names that are not looked at as well: they are for the listener to leave out. */
export interface FolderEvents {
  /** Something happened to this name. `contentOnly`: it neither came, nor went, nor was renamed; false where not known. */
  touched: (path: PathText, contentOnly: boolean) => void;
  /** Something happened in this folder; to what, the event cannot say: it must be read. */
  unclear: (dir: PathText) => void;
  /** This folder is not watched, or not any more. */
  failed: (dir: PathText, error: NodeJS.ErrnoException) => void;
}

/** Where folders are watched. */
export interface FolderWatchPlace {
  /** Absolute, without links. */
  base: string;
  /** Folders on another device are not watched. */
  device: bigint;
  skip: (path: PathText) => boolean;
}

/**
 * Watches folders of one tree, each on its own: the names right in it. Events are hints; what is there now must be looked
 * at. Two of them: each-folder.ts where the system watches folders, tree-watch.ts where it watches trees.
 */
export interface FolderWatch {
  /**
   * Watches a folder, anew if it is watched already: the folder that is there now, whatever was there before. What happens
   * in it from the end of the call on (of the promise, if there is one) is told, or the folder is `unclear` soon after.
   * Never throws; what goes wrong comes as `failed`, during the call or later.
   */
  watch(dir: PathText): Promise<void> | undefined;
  /** Ends the watch of this folder alone. */
  unwatch(dir: PathText): void;
  /** Nothing is told after this. Does not wait for what hangs. */
  close(): void;
}

export type OpenFolderWatch = (place: FolderWatchPlace, events: FolderEvents) => FolderWatch;
