import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';

/** What passes between the pool and its workers. */

/** Given to a worker at its start. */
export interface WorkerSetup {
  /** One counter that the worker raises with every sign of life; the pool watches it from outside. */
  signs: SharedArrayBuffer;
  /** Most memory that the wasm module may take, bytes. */
  heapLimit: number;
}

export interface Job {
  path: Uint8Array | string;
  stat: FileStat;
}

export type FromWorker =
  | { type: 'ready' }
  /** `broken`: the wasm module has aborted; this worker must not be used again. */
  | { type: 'done'; outcome: ProbeOutcome; heapBytes: number; broken: boolean };
