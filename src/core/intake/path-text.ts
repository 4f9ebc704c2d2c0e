import type { PathText } from '../model.ts';

/**
 * Bytes that are no valid UTF-8 are kept as U+F700 + byte. Only bytes from 0x80 up can be invalid, so the range in use is
 * U+F780-U+F7FF of the private area: no surrogates, so the text passes through SQLite and JSON unharmed.
 */
const ESCAPE_BASE = 0xf700;
const ESCAPED = /[\uF780-\uF7FF]/;

const strict = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
const encoder = new TextEncoder();

/**
 * The text of a name or path given as bytes, without loss. A genuine character of the escape range is escaped byte by
 * byte as well, so that two different names never get the same text. UTF-8 as in RFC 3629: no overlong forms, no
 * surrogates, nothing above U+10FFFF.
 */
export function fromBytes(bytes: Uint8Array): PathText {
  const text = decodeStrictly(bytes);
  return text !== null && !ESCAPED.test(text) ? text : decodeWithEscapes(bytes);
}

/** The bytes of a path text: the exact inverse of `fromBytes`. */
export function toUtf8(path: PathText): Uint8Array {
  if (!hasEscapes(path)) return encoder.encode(path);
  const parts: number[] = [];
  for (const character of path) {
    const byte = (character.codePointAt(0) ?? 0) - ESCAPE_BASE;
    if (byte >= 0x80 && byte <= 0xff) parts.push(byte);
    else parts.push(...encoder.encode(character));
  }
  return Uint8Array.from(parts);
}

/** Whether the path holds bytes that are no plain text, so that a system call needs the exact bytes. */
export function hasEscapes(path: PathText): boolean {
  return ESCAPED.test(path);
}

/** The folder of a path, without a trailing slash; empty for a name at the root. */
export function dirName(path: PathText): PathText {
  const slash = path.lastIndexOf('/');
  return slash < 0 ? '' : path.slice(0, slash);
}

/** The last name of a path. */
export function baseName(path: PathText): PathText {
  return path.slice(path.lastIndexOf('/') + 1);
}

/** The extension of the last name, lower-case and without the dot; empty when there is none (`.hidden` has none). */
export function extension(path: PathText): string {
  const name = baseName(path);
  const dot = name.lastIndexOf('.');
  return dot <= 0 ? '' : name.slice(dot + 1).toLowerCase();
}

/** The last name without its extension. */
export function stem(path: PathText): PathText {
  const name = baseName(path);
  const dot = name.lastIndexOf('.');
  return dot <= 0 ? name : name.slice(0, dot);
}

/** A name in a folder; the root folder is the empty path. */
export function joinPath(dir: PathText, name: PathText): PathText {
  return dir === '' ? name : `${dir}/${name}`;
}

function decodeStrictly(bytes: Uint8Array): string | null {
  try {
    return strict.decode(bytes);
  } catch {
    return null;
  }
}

function decodeWithEscapes(bytes: Uint8Array): PathText {
  let text = '';
  let at = 0;
  while (at < bytes.length) {
    const length = sequenceLength(bytes, at);
    const character = length === 0 ? null : decodeStrictly(bytes.subarray(at, at + length));
    if (character !== null && !ESCAPED.test(character)) {
      text += character;
      at += length;
    } else {
      text += String.fromCharCode(ESCAPE_BASE + (bytes[at] ?? 0));
      at += 1;
    }
  }
  return text;
}

/** Length that the first byte promises, 0 when it begins nothing or the promise runs past the end. */
function sequenceLength(bytes: Uint8Array, at: number): number {
  const first = bytes[at] ?? 0;
  const length = first < 0x80 ? 1 : first < 0xc2 ? 0 : first < 0xe0 ? 2 : first < 0xf0 ? 3 : first < 0xf5 ? 4 : 0;
  return at + length <= bytes.length ? length : 0;
}
