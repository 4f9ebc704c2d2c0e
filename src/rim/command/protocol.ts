import type { CommandExit } from '../../core/backup/command-port.ts';

/** To the process that watches a program. */
export type ToCommand =
  | {
      type: 'run';
      argv: string[];
      /** Of the program, and nothing else. */
      env: Record<string, string>;
      /** A file that says which process group runs, as long as one does. */
      note: string;
      /** Between asking it to end, and ending it. */
      graceMs: number;
    }
  /** What was said was taken. */
  | { type: 'taken' }
  | { type: 'end'; because: 'ended' | 'flooded' };

/** From it. */
export type FromCommand =
  | { type: 'said'; lines: Uint8Array[]; tooLong: number }
  /** Its group is gone. */
  | { type: 'exit'; exit: CommandExit };
