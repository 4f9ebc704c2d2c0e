import { fromBytes } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/** What a program that copies said in one line. Nothing of it is believed but that it was said. */
export type CommandReport =
  | {
      is: 'copied';
      file: PathText;
      /** Where it is now, in the program's own words; `null`: it did not say. */
      place: string | null;
      /** Where it can be read, absolute; `null`: it did not say. */
      readAt: PathText | null;
    }
  | { is: 'failed'; file: PathText; message: string | null }
  | { is: 'progress'; share: number | null; message: string | null };

/** Why a line says nothing: it is no JSON object in UTF-8, or none that we know. */
export type NoReport = 'no-json' | 'no-report';

/** Of the program's own words so many characters are kept. */
const LONGEST_WORDS = 300;

const strict = new TextDecoder('utf-8', { fatal: true });
const encoder = new TextEncoder();

/**
 * One line of a program's standard output, as JSON: `{"file": PATH, "state": "copied" | "failed", "place": TEXT, "readAt": PATH, "message":
 * TEXT}`, where only `file` and `state` must be there; or `{"progress": 0..1, "message": TEXT}`. Paths as in the list; one whose bytes are no
 * UTF-8 stands as base64 (RFC 4648, section 4) in `fileBase64` and `readAtBase64`.
 */
export function readReport(line: Uint8Array): CommandReport | NoReport {
  const said = jsonObject(line);
  if (said === null) return 'no-json';
  const { state, progress } = said;
  const message = words(said['message']);
  if (state === undefined && progress !== undefined) return { is: 'progress', share: shareOf(progress), message };
  const file = pathIn(said, 'file');
  if (file === null) return 'no-report';
  if (state === 'failed') return { is: 'failed', file, message };
  if (state !== 'copied') return 'no-report';
  return { is: 'copied', file, place: words(said['place']), readAt: pathIn(said, 'readAt') };
}

function jsonObject(line: Uint8Array): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(strict.decode(line));
    return typeof value === 'object' && value !== null && !Array.isArray(value)
      ? (value as Record<string, unknown>)
      : null;
  } catch {
    return null;
  }
}

/** Through bytes, so that a character that stands for a byte in our texts is not taken for it. */
function pathIn(said: Record<string, unknown>, key: string): PathText | null {
  const [text, coded] = [said[key], said[`${key}Base64`]];
  try {
    const bytes =
      typeof text === 'string' ? encoder.encode(text) : typeof coded === 'string' ? Uint8Array.fromBase64(coded) : null;
    return bytes === null || bytes.length === 0 || bytes.includes(0) ? null : fromBytes(bytes);
  } catch {
    return null;
  }
}

function words(value: unknown): string | null {
  return typeof value === 'string' && value !== '' ? value.slice(0, LONGEST_WORDS) : null;
}

function shareOf(value: unknown): number | null {
  return typeof value === 'number' && value >= 0 && value <= 1 ? value : null;
}

/** The arguments of a program, with what stands for the list and the volume's folder filled in. */
export function filledIn(argv: readonly string[], places: { list: string; root: string }): string[] {
  return argv.map((argument) => argument.replaceAll(/\{(list|root)\}/g, (_, name: 'list' | 'root') => places[name]));
}

/** A path below a folder, as counted from there; `null`: it is not below it, or goes up on its way. */
export function pathBelow(root: string, path: PathText): PathText | null {
  const base = root === '/' ? '/' : `${root}/`;
  if (!path.startsWith(base)) return null;
  const below = path.slice(base.length);
  const isPlain = below.split('/').every((name) => name !== '' && name !== '.' && name !== '..');
  return isPlain ? below : null;
}
