import { display } from '../core/present/escape.ts';
import { wrap } from '../core/present/text.ts';

/** What a verb may touch of the terminal it was called on. Handed in, so that tests read what a person would. */
export interface CliIo {
  out(text: string): void;
  err(text: string): void;
  /** Is standard output a terminal? */
  terminal: boolean;
  /** Can what stands on standard output be drawn over (a terminal, and not `TERM=dumb`)? */
  redraws: boolean;
  /** The same of standard error, where the progress of long work is told. */
  tellsProgress: boolean;
  /** May colour and bold type be used (`redraws`, and NO_COLOR not set)? */
  colour: boolean;
  /** Columns of the terminal as it is now; 80 when it is none. */
  readonly columns: number;
  /** Rows of the terminal as it is now; `null` when it is none. */
  readonly rows: number | null;
  env: Readonly<Record<string, string | undefined>>;
  cwd: string;
  /** The person's time zone, IANA name. */
  zone: string;
}

/** What of a process the terminal is known by. */
interface Terminals {
  stdout: { isTTY?: boolean; columns?: number; rows?: number; write(text: string): unknown };
  stderr: { isTTY?: boolean; write(text: string): unknown };
  env: CliIo['env'];
}

/** The terminal this process was called on. Its size is asked for each time: windows are made larger and smaller. */
export function processIo({ stdout, stderr, env }: Terminals, cwd: string, zone: string): CliIo {
  const obeys = env['TERM'] !== 'dumb';
  const redraws = stdout.isTTY === true && obeys;
  return {
    out: (text) => void stdout.write(text),
    err: (text) => void stderr.write(text),
    terminal: stdout.isTTY === true,
    redraws,
    tellsProgress: stderr.isTTY === true && obeys,
    // "When present and not an empty string (regardless of its value)": no-color.org.
    colour: redraws && (env['NO_COLOR'] ?? '') === '',
    // A terminal that was told no size says 0.
    get columns() {
      return stdout.columns || 80;
    },
    get rows() {
      return stdout.rows || null;
    },
    ...{ env, cwd, zone },
  };
}

/** Columns that sentences may take: they read badly when they are wider than 100. */
export function textWidth({ columns }: Pick<CliIo, 'columns'>): number {
  return Math.max(40, Math.min(100, columns));
}

/** A sentence with its line end: broken where the terminal ends; in a pipe one line, for whoever looks for it there. */
export function sentence(io: Pick<CliIo, 'terminal' | 'columns'>, text: string): string {
  return `${io.terminal ? wrap(text, textWidth(io)).join('\n') : display(text)}\n`;
}
