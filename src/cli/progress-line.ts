import { shorten } from '../core/present/text.ts';
import type { CliIo } from './io.ts';

/** One line on standard error that is drawn over. */
export interface ProgressLine {
  tell(text: string): void;
  /** Takes it away. */
  end(): void;
}

/** How far long work is, for a person who looks: nothing of it in a pipe, on a terminal that draws over nothing, or `silent` (JSON). */
export function progressLine(io: CliIo, { silent }: { silent: boolean }): ProgressLine {
  if (silent || !io.tellsProgress) return { tell() {}, end() {} };
  let told = false;
  return {
    tell(text) {
      told = true;
      // A line that fills the row would go on in the next one, and could not be taken back.
      io.err(`\r${shorten(text, Math.max(8, io.columns - 1))}\x1b[K`);
    },
    end() {
      if (told) io.err('\r\x1b[K');
    },
  };
}
