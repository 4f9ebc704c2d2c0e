import { display } from './escape.ts';

/**
 * Scripts and signs that terminals draw two columns wide (UAX #11, East Asian Width W and F). Rather too many than too
 * few: a line may end early, it never runs over.
 */
const WIDE =
  /[\p{Script=Han}\p{Script=Hiragana}\p{Script=Katakana}\p{Script=Hangul}\p{Script=Bopomofo}\p{Script=Yi}\p{Script=Tangut}\p{Script=Nushu}\p{Script=Khitan_Small_Script}\p{Extended_Pictographic}\p{Regional_Indicator}\p{Emoji_Modifier}\u2329\u232A\u2630-\u2637\u268A-\u268F\u2E80-\u303E\u3040-\uA4CF\uF900-\uFAFF\uFE10-\uFE19\uFE30-\uFE6F\uFF01-\uFF60\uFFE0-\uFFE6\u{1D300}-\u{1D37F}\u{1F000}-\u{1FAFF}\u{20000}-\u{3FFFD}]/u;

/** Where a line may break: at a space, but not between a figure and its unit. */
const BREAK = / (?!(?<=\d )(?:[kMGTPE]?B|MB\/s|Mb\/s|s|min|h|days)(?![\w/]))/;

/** Terminal columns of a text: at least as many as it takes (a combining mark is counted as one). */
export function columns(text: string): number {
  let count = 0;
  for (const character of text) count += columnsOf(character);
  return count;
}

/** Escapes a text and shortens it in the middle to at most `width` columns; names often differ at their ends. */
export function shorten(text: string, width: number): string {
  const safe = display(text);
  if (columns(safe) <= width) return safe;
  if (width <= 3) return '...'.slice(0, Math.max(0, width));
  const characters = [...safe];
  const tail = take(characters.toReversed(), Math.floor((width - 3) / 2));
  const head = take(characters, width - 3 - columns(tail.join('')));
  return `${head.join('')}...${tail.toReversed().join('')}`;
}

/** `shorten`, filled up with spaces to exactly `width` columns. */
export function cell(text: string, width: number, align: 'left' | 'right' = 'left'): string {
  const fitted = shorten(text, width);
  const fill = ' '.repeat(Math.max(0, width - columns(fitted)));
  return align === 'left' ? fitted + fill : fill + fitted;
}

/**
 * Escapes a text and breaks it at spaces into lines of at most `width` columns, cutting words that are longer. The
 * first line begins with `lead`, the others are indented as far.
 */
export function wrap(text: string, width: number, lead = ''): string[] {
  const indent = ' '.repeat(columns(lead));
  const room = Math.max(2, width - columns(lead));
  const lines: string[] = [];
  let line = '';
  for (const word of display(text)
    .split(BREAK)
    .flatMap((long) => cut(long, room))) {
    if (line !== '' && columns(line) + 1 + columns(word) > room) {
      lines.push(line);
      line = word;
    } else {
      line = line === '' ? word : `${line} ${word}`;
    }
  }
  lines.push(line);
  return lines.map((part, index) => (index === 0 ? lead : indent) + part);
}

/**
 * A bar of `width` characters for `value` against a line at `limit`, both on a scale that ends at `end`: `=` up to the
 * value, `|` at the limit.
 */
export function bar(value: number, limit: number, end: number, width: number): string {
  const place = (amount: number) => Math.round(Math.min(1, Math.max(0, amount / end)) * width);
  const cells = [...'='.repeat(place(value)).padEnd(width, '.')];
  cells[Math.min(width - 1, place(limit))] = '|';
  return cells.join('');
}

function columnsOf(character: string): number {
  return WIDE.test(character) ? 2 : 1;
}

function take(characters: readonly string[], width: number): string[] {
  const taken: string[] = [];
  let used = 0;
  for (const character of characters) {
    used += columnsOf(character);
    if (used > width) break;
    taken.push(character);
  }
  return taken;
}

function cut(word: string, width: number): string[] {
  const pieces: string[] = [];
  let rest = [...word];
  while (columns(rest.join('')) > width) {
    const piece = take(rest, width);
    pieces.push(piece.join(''));
    rest = rest.slice(piece.length);
  }
  return [...pieces, rest.join('')];
}
