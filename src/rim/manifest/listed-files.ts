import type { Sums } from '../../core/backup/sums.ts';
import type { InventoryFile } from '../../core/cards/inventory.ts';
import type { PathText } from '../../core/model.ts';
import { ManifestError } from './manifest-error.ts';

/** More files than a shoot gives: what lists so many is no manifest of footage, and costs memory. */
const MOST_FILES = 500_000;
/** Linux: PATH_MAX, NAME_MAX (limits.h). In bytes there; in characters here, which are never more. */
const LONGEST_PATH = 4096;
const LONGEST_NAME = 255;
const SHOWN = 80;

/** What a manifest lists, each path once; gathers what could not be used. */
export class ListedFiles {
  readonly #files = new Map<PathText, InventoryFile>();
  readonly #sums = new Map<PathText, Sums>();
  readonly #gaps: string[] = [];
  #dropped = 0;
  #firstDropped: PathText = '';

  /** A path that leads out of the manifest's folder, or that no file can have, is left out and counted. */
  add(path: PathText, size: number | null, mtimeMs: number | null, sums: Sums = {}): void {
    const safe = safePath(path);
    if (safe === null) {
      this.#dropped += 1;
      if (this.#dropped === 1) this.#firstDropped = path.slice(0, SHOWN);
      return;
    }
    if (this.#files.size >= MOST_FILES) {
      throw new ManifestError('too-large', `It lists more than ${MOST_FILES} files.`);
    }
    this.#files.set(safe, { path: safe, size, mtimeMs });
    this.#sums.set(safe, { ...this.#sums.get(safe), ...sums });
  }

  /** Something else that could not be used, as a sentence without its full stop. */
  note(gap: string): void {
    this.#gaps.push(gap);
  }

  get files(): InventoryFile[] {
    return [...this.#files.values()];
  }

  /** The values that the list has of a file. */
  sumsOf(path: PathText): Sums {
    return this.#sums.get(path) ?? {};
  }

  get gap(): string | null {
    const dropped =
      this.#dropped === 0
        ? []
        : [
            `${this.#dropped} of its paths lead out of its folder or can be no file's (the first: "${this.#firstDropped}")`,
          ];
    const gaps = [...dropped, ...this.#gaps];
    return gaps.length === 0 ? null : gaps.join('; ');
  }
}

/** The path below the manifest's folder, without `.` and empty parts; `null` where it cannot be one. */
export function safePath(path: PathText): PathText | null {
  if (path.startsWith('/') || path.includes('\0') || path.length > LONGEST_PATH) return null;
  const names = path.split('/').filter((name) => name !== '' && name !== '.');
  if (names.length === 0 || names.some((name) => name === '..' || name.length > LONGEST_NAME)) return null;
  return names.join('/');
}
