import type { ScopeSettings } from '../../core/intake/scope.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { DriveIdentity } from './drive.ts';
import type { PackedEvent } from './packing.ts';

/** What one root is watched with. Seconds. */
export interface WatchSettings {
  /** Folder times are looked at this often. */
  sweepEvery: number;
  /** Every folder is read again this often. */
  fullSweepEvery: number;
}

/** Handed to a root's process as its only argument, as JSON. */
export interface RootArguments {
  /** Absolute, plain text. */
  root: string;
  settings: WatchSettings;
  /** What of the root is looked at. */
  scope: ScopeSettings;
  /** Mount point that the root is known to lie on; without it the root is absent. `null`: not known yet. */
  mountPoint: string | null;
  /** What is known of the drive there: with another one the root is absent, too. */
  drive: DriveIdentity | null;
}

/** What is answered, once each, under the same number. */
export type Request =
  | { type: 'inspect'; id: number; paths: PathText[] }
  | { type: 'probe'; id: number; file: FileStat }
  | { type: 'missing'; id: number; paths: PathText[] }
  | { type: 'manifest'; id: number; file: FileStat }
  | { type: 'content'; id: number; file: FileStat }
  | { type: 'space'; id: number }
  | { type: 'sweep'; id: number };

/** From the daemon to a root's process. */
export type ToChild =
  | Request
  | { type: 'start' }
  | { type: 'ping' }
  /** One listing, or a part of one, has been dealt with: the sweep may send another. */
  | { type: 'taken' }
  | { type: 'stop' };

/** From a root's process to the daemon. */
export type FromChild =
  | { type: 'event'; event: PackedEvent }
  | { type: 'answer'; id: number; value: unknown }
  | { type: 'failed'; id: number; message: string }
  /** The root is live on this mount point, and on this drive: a process that takes over must know. */
  | { type: 'mounted'; mountPoint: string | null; drive: DriveIdentity | null }
  | { type: 'pong' };

/** One end of the line between the two. Messages arrive in order. */
export interface Channel<Sent, Received> {
  send(message: Sent): void;
  onMessage(handler: (message: Received) => void): void;
  /** The other end is gone. */
  onClose(handler: () => void): void;
}

export type ChildChannel = Channel<FromChild, ToChild>;

export function encodeArguments(given: RootArguments): string {
  return JSON.stringify(given);
}

/** Reads what `encodeArguments` wrote; throws when this process was not started by the daemon. */
export function decodeArguments(text: string | undefined): RootArguments {
  if (text === undefined) throw new Error('this program is started by headroomd, not by hand');
  return JSON.parse(text) as RootArguments;
}
