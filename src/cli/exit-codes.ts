/** How the program ends. Scripts and the service unit rely on these numbers; `--help` and the README list them. */
export const exitCodes = {
  ok: 0,
  /** Something went wrong that has no number of its own; the message says what. */
  failed: 1,
  /** Unknown verb or option, or an argument that cannot be used. */
  usage: 2,
  /** No daemon runs on this state folder. */
  noDaemon: 3,
  badConfiguration: 4,
  /** Another daemon already works on this state folder. */
  stateLocked: 5,
  /** The state folder cannot be written, is full, or is of a newer version. */
  stateUnusable: 6,
  /** Copies that were read again are not all there and as they were written. */
  copiesDiffer: 7,
} as const;

export type ExitCode = (typeof exitCodes)[keyof typeof exitCodes];
