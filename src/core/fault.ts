/** Closed set of what can go wrong in a way that a person must hear of. Also log field. */
export type FaultCode =
  | 'usage'
  | 'bad-configuration'
  | 'folder-missing'
  | 'folder-unreadable'
  | 'no-daemon'
  | 'daemon-unreachable'
  | 'state-locked'
  | 'state-unwritable'
  | 'state-full'
  | 'state-newer'
  | 'state-damaged'
  | 'port-busy'
  | 'failed';

/**
 * An error with a message for a person: what happened, to which file, and what to do. `cause` keeps the original.
 * Everything else that is thrown is a defect of ours.
 */
export class Fault extends Error {
  readonly code: FaultCode;

  constructor(code: FaultCode, message: string, cause?: unknown) {
    super(message, cause === undefined ? undefined : { cause });
    this.name = 'Fault';
    this.code = code;
  }
}

/** The message of anything thrown, without its stack; `String(thrown)` for what is no Error. */
export function messageOf(thrown: unknown): string {
  return thrown instanceof Error ? thrown.message : String(thrown);
}
