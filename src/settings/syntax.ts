import { ParseError } from 'toml-eslint-parser';
import { parseTree, placeOf, type Table } from './position.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort } from './show.ts';

const NO_BRACKET = 'the closing bracket of the table name';
const NO_VALUE = 'a value after "="';

/** What each complaint of the parser means, as what should have stood there. Its own words are for people who know its code. */
const EXPECTED: ReadonlyMap<string, string> = new Map([
  ['Unterminated string constant', 'the closing quote of the text'],
  ['Unterminated table-key', NO_BRACKET],
  ['Unterminated array', 'the closing "]" of the list'],
  ['Unterminated inline table', 'the closing "}" of the table'],
  ['Empty bare keys are not allowed', 'a key'],
  ['Must be a newline', 'the end of the line'],
  ['Expected equal (=) token', '"=" after the key'],
  ['Unspecified values are invalid', NO_VALUE],
  ['Expected comma (,) token', 'a comma'],
  ['Defining a key multiple times is invalid', 'each key and table only once'],
  ['Unexpected character', 'a value, a key or a table'],
  ['Unexpected token', 'a value, a key or a table'],
  ['Control characters (codes < 0x1f and 0x7f) are not allowed', 'control characters written as \\uXXXX'],
  ['The key, equals sign, and value must be on the same line', 'key, "=" and value on one line'],
  [
    'No newlines are allowed between the curly braces unless they are valid within a value',
    'the whole { ... } table on one line',
  ],
  ['Trailing comma is not permitted in an inline table', 'no comma before "}"'],
  ['Invalid character in escape sequence', 'one of the escapes \\, \\", \\n, \\t, \\r, \\b, \\f, \\uXXXX, \\UXXXXXXXX'],
  ['Underscores are allowed between digits', 'underscores between digits only'],
  ['Leading zeros are not allowed', 'a number without leading zeros'],
  ['Unexpected invalid date', 'a date that exists'],
  ['Unexpected invalid time', 'a time that exists'],
]);
/** A whole line of comment, or one behind something that cannot be part of a text: no quote stands in it. */
const COMMENT_AT_END = /^\s*#[\s\S]*$|#[^"']*$/;
const FIRST_ONLY = 'reading stopped here, so what follows is not checked yet';

/** Nothing that a person writes; the parser runs out of stack on it. */
const OUTSIZED: SettingsProblem = {
  line: null,
  column: null,
  key: 'file',
  expected: 'texts of at most some thousand characters, lists at most some levels deep',
  found: 'far more than that',
  hint: 'is this the right file?',
};

/** The tree, or the one thing that keeps the text from being TOML: its encoding, its size, or its first syntax error. */
export function readToml(text: string): { ok: true; tree: Table } | { ok: false; problem: SettingsProblem } {
  const encoding = encodingProblem(text);
  if (encoding !== null) return { ok: false, problem: encoding };
  try {
    return { ok: true, tree: parseTree(text) };
  } catch (thrown) {
    if (thrown instanceof RangeError) return { ok: false, problem: OUTSIZED };
    if (!(thrown instanceof ParseError)) throw thrown;
    return { ok: false, problem: syntaxProblem(text, thrown) };
  }
}

/** TOML is UTF-8. A byte that is not became U+FFFD on reading, and a path with it would name another folder. */
function encodingProblem(text: string): SettingsProblem | null {
  const index = text.search(/[\0\uFFFD]/);
  if (index < 0) return null;
  const zero = text[index] === '\0';
  return {
    ...placeOf(text, index),
    key: 'encoding',
    expected: 'text in UTF-8',
    found: zero ? 'a zero byte' : 'a byte that is not UTF-8',
    hint: zero ? 'saved as UTF-16? Save it again as UTF-8' : 'save the file again as UTF-8',
  };
}

function syntaxProblem(text: string, error: ParseError): SettingsProblem {
  const { index, expected } = complaint(text, error);
  return {
    ...placeOf(text, index),
    key: 'syntax',
    expected,
    found: foundAt(text, index),
    hint: missingQuotes(text, error, index) ?? FIRST_ONLY,
  };
}

/** What is missing at the end of a line the parser misses at the start of the next; it is told where it belongs. */
function complaint(text: string, error: ParseError): { index: number; expected: string } {
  const told = { index: error.index, expected: EXPECTED.get(error.message) ?? `TOML (${error.message.toLowerCase()})` };
  const above = lastContentAbove(text.slice(0, error.index));
  if (above?.content.endsWith('=')) return { index: above.end, expected: NO_VALUE };
  if (above !== null && /^\s*\[[^\]]*\]?$/.test(above.content)) return { index: above.end, expected: NO_BRACKET };
  return told;
}

/** Of a text that ends at the start of a line: the last line before it that holds more than blanks and a comment. */
function lastContentAbove(before: string): { content: string; end: number } | null {
  const lines = before.split('\n');
  if (lines.pop()?.trim() !== '') return null;
  for (let line = lines.pop(); line !== undefined; line = lines.pop()) {
    const content = line.replace(COMMENT_AT_END, '').trimEnd();
    const start = lines.reduce((length, earlier) => length + earlier.length + 1, 0);
    if (content !== '') return { content, end: start + content.length };
  }
  return null;
}

function foundAt(text: string, index: number): string {
  if (index >= text.length) return 'the end of the file';
  const rest = /^[^\r\n]*/.exec(text.slice(index))?.[0] ?? '';
  return rest.replace(COMMENT_AT_END, '').trim() === '' ? 'the end of the line' : quotedShort(rest.trimEnd());
}

/** `level = debug` and `reserve = 10%` are the commonest slips: text without quotes. */
function missingQuotes(text: string, error: ParseError, index: number): string | null {
  const lineStart = text.slice(0, index).lastIndexOf('\n') + 1;
  const line = /^[^\r\n]*/.exec(text.slice(lineStart))?.[0] ?? '';
  const bare = /^\s*[\w.-]+\s*=\s*([^"'[{\s#][^"'#=]*?)\s*(#.*)?$/.exec(line);
  const inValue = index - lineStart > line.indexOf('=');
  const fits = inValue && /^(Unexpected character|Must be a newline)/.test(error.message);
  return fits && bare !== null ? `text stands in quotes: ${quotedShort(bare[1] ?? '')}; ${FIRST_ONLY}` : null;
}
