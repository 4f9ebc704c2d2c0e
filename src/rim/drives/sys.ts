import { posix } from 'node:path';

/** The part of `node:fs` that reading /sys and /proc takes; tests hand in another one. */
export interface SysFs {
  readFileSync(path: string, encoding: 'utf8'): string;
  readdirSync(path: string): string[];
  readlinkSync(path: string): string;
}

/** A small file's text, trimmed; `null` where there is none. */
export function text(fs: SysFs, path: string): string | null {
  try {
    return fs.readFileSync(path, 'utf8').trim();
  } catch {
    return null;
  }
}

/** A number that stands alone in a file; `null` where there is none. */
export function number(fs: SysFs, path: string): number | null {
  const told = text(fs, path);
  const value = told === null || told === '' ? Number.NaN : Number(told);
  return Number.isNaN(value) ? null : value;
}

export function names(fs: SysFs, folder: string): string[] {
  try {
    return fs.readdirSync(folder).toSorted();
  } catch {
    return [];
  }
}

/** Where a link leads, one step; the path itself where it is none. */
export function behind(fs: SysFs, path: string): string {
  try {
    return posix.resolve(posix.dirname(path), fs.readlinkSync(path));
  } catch {
    return path;
  }
}
