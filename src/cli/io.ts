/** What a verb may touch of the terminal it was called on. Handed in, so that tests read what a person would. */
export interface CliIo {
  out(text: string): void;
  err(text: string): void;
  /** Is standard output a terminal? */
  terminal: boolean;
  /** May colour be used (a terminal, and NO_COLOR not set)? */
  colour: boolean;
  /** Columns of the terminal; 80 when it is none. */
  columns: number;
  /** Rows of the terminal; `null` when it is none. */
  rows: number | null;
  env: Readonly<Record<string, string | undefined>>;
  cwd: string;
  /** The person's time zone, IANA name. */
  zone: string;
}
