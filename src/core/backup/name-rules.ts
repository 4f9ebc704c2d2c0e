import { hasEscapes, toUtf8 } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/**
 * What a shelf's file system does with names. `bytes`: any but NUL and `/`, 255 bytes long (POSIX, Linux NAME_MAX). `restricted`: FAT,
 * exFAT, NTFS and servers that speak SMB, taken together, so that what is kept on one can be read on all.
 */
export type NameRules = 'bytes' | 'restricted';

const LONGEST_BYTES = 255;
/** exFAT specification 7.7.3: up to 255 UTF-16 units; NTFS as well. */
const LONGEST_UNITS = 255;
/** exFAT specification, table "Invalid FileName Characters"; the same nine in "Naming Files, Paths, and Namespaces" (Win32). */
// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is looked for.
const FORBIDDEN = /[\u0000-\u001f"*/:<>?\\|]/;
/** "Naming Files, Paths, and Namespaces" (Win32): with any extension as well; the superscript digits count as digits. */
const DEVICE = /^(?:con|prn|aux|nul|(?:com|lpt)[1-9\u00b9\u00b2\u00b3])(?:\.|$)/i;

/**
 * Why a shelf cannot keep a path as it is, by the first of its names that it cannot, in words; `null`: it can. A name that
 * would be kept as another one is refused, never merged.
 */
export function refusedName(target: PathText, rules: NameRules): string | null {
  for (const name of target.split('/')) {
    const why = impossible(name) ?? (rules === 'restricted' ? restricted(name) : null);
    if (why !== null) return why;
  }
  return null;
}

function impossible(name: PathText): string | null {
  if (name === '' || name === '.' || name === '..') return 'it is no plain path below the shelf';
  if (name.includes('\0')) return 'it has a NUL in it';
  const bytes = toUtf8(name).length;
  return bytes > LONGEST_BYTES ? `a name of ${bytes} bytes, of at most ${LONGEST_BYTES}` : null;
}

function restricted(name: PathText): string | null {
  if (hasEscapes(name)) return 'its bytes are no UTF-8, which this file system cannot keep';
  if (name.length > LONGEST_UNITS) return `a name of ${name.length} characters, of at most ${LONGEST_UNITS}`;
  const forbidden = FORBIDDEN.exec(name)?.[0];
  if (forbidden !== undefined) {
    const code = forbidden.charCodeAt(0);
    return code < 0x20 ? `the control character ${code} in a name` : `the character ${forbidden} in a name`;
  }
  if (/[. ]$/.test(name)) return 'a name that ends in a full stop or a space, which would be dropped';
  if (DEVICE.test(name)) return 'a name that stands for a device there';
  return null;
}

/**
 * What names are compared by where case or composition does not tell them apart: equal keys may be one file there. Wider than any
 * one file system's own table, so that it errs towards refusing.
 */
export function foldedName(path: PathText): string {
  return path.normalize('NFC').toUpperCase().toLowerCase().normalize('NFC');
}
