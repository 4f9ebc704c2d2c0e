import { dirName } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { isMissing } from './missing-error.ts';

/** The part of `node:fs` that this takes. */
export type InsideFs = Pick<typeof import('node:fs'), 'lstatSync'>;

/**
 * Whether names are still reached through the root's own folders. The system follows a link in the middle of a path
 * without a word: a folder that was moved elsewhere, with a link to it left in its place, would still seem to be here,
 * and what is asked of its files would be asked outside the root. Remembers what it saw: made anew for each batch of
 * questions.
 */
export class InsideRoot {
  readonly #fs: InsideFs;
  readonly #base: string;
  readonly #device: bigint;
  readonly #folders = new Map<PathText, boolean>([['', true]]);

  constructor({ fs, base, device }: { fs: InsideFs; base: string; device: bigint }) {
    this.#fs = fs;
    this.#base = base;
    this.#device = device;
  }

  /** Whether all above this name are folders on the root's device. Throws what the system says, except "missing". */
  reaches(path: PathText): boolean {
    return this.#isFolder(dirName(path));
  }

  /** The same; what cannot be looked at is not taken to be outside: whoever opens it will say what is wrong. */
  seemsToReach(path: PathText): boolean {
    try {
      return this.reaches(path);
    } catch {
      return true;
    }
  }

  #isFolder(dir: PathText): boolean {
    const known = this.#folders.get(dir);
    if (known !== undefined) return known;
    const is = this.reaches(dir) && this.#looksLikeFolder(dir);
    this.#folders.set(dir, is);
    return is;
  }

  #looksLikeFolder(dir: PathText): boolean {
    try {
      const stat = this.#fs.lstatSync(toAbsolute(this.#base, dir), { bigint: true });
      return stat.isDirectory() && stat.dev === this.#device;
    } catch (thrown) {
      if (isMissing(thrown as NodeJS.ErrnoException)) return false;
      throw thrown;
    }
  }
}
