/** Characters that a terminal acts on, or that cannot be seen: controls, formats (bidi), surrogates, private, line separators. */
const UNSEEN = /[\p{C}\p{Zl}\p{Zp}]/gu;
const SHORT = new Map([
  ['\b', '\\b'],
  ['\t', '\\t'],
  ['\n', '\\n'],
  ['\f', '\\f'],
  ['\r', '\\r'],
]);
const LONGEST = 60;

/** `text` as it can be printed on a terminal: what cannot be seen is written as TOML writes it (`\n`, `\u001b`). */
export function visible(text: string): string {
  return text.replace(UNSEEN, (character) => SHORT.get(character) ?? escapeOf(character));
}

/** `text` as a TOML basic string: quoted, with every unseen character, quote and backslash escaped. */
export function quoted(text: string): string {
  return `"${visible(text.replace(/["\\]/g, '\\$&'))}"`;
}

/** `quoted`, cut after 60 characters with a mark of how many there were. */
export function quotedShort(text: string): string {
  const characters = [...text];
  if (characters.length <= LONGEST) return quoted(text);
  return `${quoted(characters.slice(0, LONGEST).join(''))}... (${characters.length} characters)`;
}

function escapeOf(character: string): string {
  const code = character.codePointAt(0) ?? 0;
  const digits = code.toString(16).toUpperCase();
  return code > 0xffff ? `\\U${digits.padStart(8, '0')}` : `\\u${digits.padStart(4, '0')}`;
}
