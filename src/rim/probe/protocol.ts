import type { Structure } from '../../core/intake/container/structure.ts';
import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';

/** What passes between the pool and its workers. */

/** Given to a worker at its start. */
export interface WorkerSetup {
  /**
   * One counter that the worker raises with every sign of life; the pool watches it from outside. It is odd while the
   * worker waits for the file system: what hangs then is a drive and not the file's content.
   */
  signs: SharedArrayBuffer;
  /** Most memory that the wasm module may take, bytes. */
  heapLimit: number;
}

export interface Job {
  /** Comes back with the answer. */
  id: number;
  path: Uint8Array | string;
  stat: FileStat;
}

export type FromWorker =
  | { type: 'ready' }
  /** What the container's own structure tells, before the library is asked: it may be the last word. */
  | { type: 'structure'; id: number; structure: Structure }
  /** Without the structure, which was told before. `broken`: the wasm module has aborted; this worker must not be used again. */
  | { type: 'done'; id: number; outcome: ProbeOutcome; heapBytes: number; broken: boolean };
