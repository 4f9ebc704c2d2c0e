import type { PathText } from '../model.ts';

/** A program that is to run. */
export interface CommandOrder {
  /** What it copies to; of one name one program runs at a time. */
  name: string;
  argv: readonly string[];
}

/** How a program ended. */
export type CommandExit = { errorText: string } & (
  | { is: 'exited'; code: number }
  /** By somebody, or by the kernel. */
  | { is: 'killed'; signal: string }
  /** It could not be started: the system's code (errno(3)). */
  | { is: 'not-started'; code: string | null }
  /** It said so much that is no report that it was ended. */
  | { is: 'flooded' }
  /** It was ended as it was asked to be. */
  | { is: 'ended' }
  /** The process that watches it is gone. */
  | { is: 'lost'; how: string }
);

/** What it said, in order. `tooLong`: lines of which nothing was kept. */
export interface CommandLines {
  lines: Uint8Array[];
  tooLong: number;
}

/** Runs programs of the user's. */
export interface CommandPort {
  /** Writes the paths, a zero byte after each, where `{list}` leads; the path of that file. */
  writeList(name: string, paths: AsyncIterable<PathText>): Promise<string>;
  /**
   * Runs a program in a process group of its own, which is ended as a whole: when the signal says so, when it floods, and when whoever runs it
   * is killed. What it says waits until it was taken; `said` resolves to whether more is to be heard: else it floods. Never rejects, but with
   * what `said` threw.
   */
  run(order: CommandOrder, said: (some: CommandLines) => Promise<boolean>, signal: AbortSignal): Promise<CommandExit>;
}
