import { socketPath, storedSnapshot } from '../rim/system/state-files.ts';
import { askDaemon, tellDaemon } from '../rim/web/ask.ts';

/** What a verb can learn of a state folder without being the daemon. */
export interface DaemonClient {
  /** The running daemon's answer, parsed; `null` when none runs. Throws Fault `daemon-unreachable`. */
  ask(path: string): Promise<unknown>;
  /** Has the running daemon do something; its answer, parsed; `null` when none runs. Throws Fault `daemon-unreachable`. */
  tell(path: string, body: unknown): Promise<unknown>;
  /** The snapshot the last daemon left; `null` when there is none. */
  lastSnapshot(): { json: string; writtenAt: number } | null;
}

export function composeClient(stateDir: string): DaemonClient {
  return {
    ask: (path) => askDaemon(socketPath(stateDir), path),
    tell: (path, body) => tellDaemon(socketPath(stateDir), path, body),
    lastSnapshot: () => storedSnapshot(stateDir),
  };
}
