import type { PathText } from '../model.ts';

/**
 * What a terminal would obey, hide or reorder by: controls (Cc), format characters (Cf: bidi overrides, zero-width
 * marks, tags; but not the joiners U+200C and U+200D, which real names in several scripts need), line and paragraph
 * separators, lone surrogates, and the bytes that were no UTF-8 (U+F780-U+F7FF, see PathText).
 */
const UNSAFE = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}\uF780-\uF7FF]|(?![\u200C\u200D])\p{Cf}/gu;

const INVALID_BYTE = /[\uF780-\uF7FF]/g;

/**
 * Makes any text safe for a terminal and for a log line. Newline becomes `\n`, other C0 controls and bytes that were
 * no UTF-8 become `\xNN`, everything else unsafe `\u{...}`. Doing it twice changes nothing more.
 */
export function display(text: PathText): string {
  return text.replace(UNSAFE, (character) => {
    const code = character.codePointAt(0) ?? 0;
    if (code === 0x0a) return '\\n';
    if (code <= 0x7f) return byteEscape(code);
    return isInvalidByte(code) ? byteEscape(code & 0xff) : `\\u{${code.toString(16)}}`;
  });
}

/** The same for what may not be known. */
export function displayOrNull(text: string | null): string | null {
  return text === null ? null : display(text);
}

/** A path as text in JSON: as it is, but for bytes that were no UTF-8, which become `\xNN`. */
export function pathInJson(path: PathText): string {
  return path.replace(INVALID_BYTE, (character) => byteEscape(character.charCodeAt(0) & 0xff));
}

/**
 * JSON that can be printed on a terminal: the same value when parsed, but every unsafe character of its strings is
 * written as `\uNNNN` (JSON.stringify itself leaves C1 controls and bidi overrides as they are).
 */
export function terminalJson(value: unknown, indent = 2): string {
  const text = JSON.stringify(value, null, indent);
  // The line breaks of the indentation are the only controls outside strings, and none is left inside.
  return text.replace(UNSAFE, (character) => (character === '\n' ? character : unicodeEscapes(character)));
}

function unicodeEscapes(character: string): string {
  return [...Array(character.length).keys()]
    .map((index) => `\\u${character.charCodeAt(index).toString(16).padStart(4, '0')}`)
    .join('');
}

function isInvalidByte(code: number): boolean {
  return code >= 0xf780 && code <= 0xf7ff;
}

function byteEscape(byte: number): string {
  return `\\x${byte.toString(16).padStart(2, '0')}`;
}
