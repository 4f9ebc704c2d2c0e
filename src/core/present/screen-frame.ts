import { formatCount } from '../units.ts';
import { columns, shorten } from './text.ts';
import { SEVERITY_WORDS } from './wording.ts';

/*
 * What a terminal is sent so that a screen is drawn over the one before. Control sequences as in ECMA-48 (5th edition, 8.3); the
 * second screen and the cursor's being hidden are private modes of DEC and xterm (XTerm Control Sequences, DECSET 25 and 1049).
 */

/** To the terminal's second screen, without a cursor. */
export const ENTER_SCREEN = '\x1b[?1049h\x1b[?25l';
/** Back to what stood there before. */
export const LEAVE_SCREEN = '\x1b[?25h\x1b[?1049l';

const HOME = '\x1b[H';
const ERASE_REST_OF_LINE = '\x1b[K';
const ERASE_BELOW = '\x1b[J';

/** Columns and rows of the terminal. */
export interface FrameSize {
  columns: number;
  rows: number;
}

/**
 * A text as one frame, drawn from the top left over the one before: nothing is erased before it is written, so nothing flickers.
 * What does not fit is left out below, and counted.
 */
export function frame(text: string, { columns: width, rows }: FrameSize, dress = (line: string) => line): string {
  const lines = text.replace(/\n$/, '').split('\n');
  const shown = fitting(lines, width, rows);
  // In the last column the cursor stands on what was written: erasing from there would take that.
  const drawn = shown.map((line) => `${dress(line)}${isFilled(line, width) ? '' : ERASE_REST_OF_LINE}`);
  const below = height(shown, width) < rows ? `\r\n${ERASE_BELOW}` : '';
  return `${HOME}${drawn.join('\r\n')}${below}`;
}

function isFilled(line: string, width: number): boolean {
  return line !== '' && columns(line) % width === 0;
}

function fitting(lines: readonly string[], width: number, rows: number): readonly string[] {
  if (height(lines, width) <= rows) return lines;
  let shown = lines.length;
  while (shown > 0 && height(lines.slice(0, shown), width) > rows - 1) shown -= 1;
  return [
    ...lines.slice(0, shown),
    shorten(`(${formatCount(lines.length - shown, 'more line')}: make the window larger)`, width),
  ];
}

/** Rows that lines take. One that is too long (only the page's address is) goes on in the next row. */
function height(lines: readonly string[], width: number): number {
  return lines.reduce((sum, line) => sum + Math.max(1, Math.ceil(columns(line) / width)), 0);
}

const SEVERITY = new RegExp(`^(?:${Object.values(SEVERITY_WORDS).join('|')}|OLD)\\b`);

/** The severity at the start of a line in bold type: in addition to the word, never in its place. */
export function dressed(line: string): string {
  return line.replace(SEVERITY, (word) => `\x1b[1m${word}\x1b[m`);
}
