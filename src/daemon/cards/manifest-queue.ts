import type { Inventory } from '../../core/cards/inventory.ts';
import { isManifestName } from '../../core/cards/manifest-name.ts';
import { messageOf } from '../../core/fault.ts';
import { baseName } from '../../core/intake/path-text.ts';
import type { FileStat } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { RootPort } from '../../core/root-port.ts';

/** A manifest is read when nothing has been heard of it for so long: what writes it may not be through. */
const QUIET_MS = 3_000;

/** A volume that is away is asked again after this long, so many times. */
const RETRY_MS = 30_000;
const TRIES = 20;

/** Manifests that wait at most: a tree of thousands of them was not copied from a card. */
const MOST = 1_000;

export interface ManifestQueueDeps {
  root: (volume: string) => Pick<RootPort, 'manifest'> | undefined;
  /** A manifest was read; `null` files are not among them. Resolves when it is taken in. */
  onManifest: (inventory: Omit<Inventory, 'id' | 'takenAt'>) => Promise<void>;
  clock: Clock;
  log: Log;
}

export interface ManifestQueue {
  /** Files came or changed on a volume; those that are no manifests are passed over. */
  note(volume: string, files: readonly FileStat[]): void;
  stop(): void;
}

interface Waiting {
  volume: string;
  file: FileStat;
  tries: number;
  dueAt: number;
}

/** Reads manifests that arrive, one after the other, each when it has been left alone for a moment. */
export function createManifestQueue({ root, onManifest, clock, log }: ManifestQueueDeps): ManifestQueue {
  const waiting = new Map<string, Waiting>();
  let cancel = (): void => {};
  let busy = false;
  let stopped = false;

  function plan(): void {
    cancel();
    if (stopped || busy || waiting.size === 0) return;
    const first = Math.min(...[...waiting.values()].map(({ dueAt }) => dueAt));
    cancel = clock.after(Math.max(0, first - clock.ticks()), () => void readDue());
  }

  async function readDue(): Promise<void> {
    busy = true;
    for (const [key, one] of waiting) {
      if (one.dueAt > clock.ticks() || stopped) continue;
      waiting.delete(key);
      const done = await read(one);
      const again = !done && one.tries < TRIES && !waiting.has(key);
      if (again) waiting.set(key, { ...one, tries: one.tries + 1, dueAt: clock.ticks() + RETRY_MS });
    }
    busy = false;
    plan();
  }

  /** False: to be asked again later. */
  async function read({ volume, file }: Waiting): Promise<boolean> {
    const where = `${display(file.path)} on ${display(volume)}`;
    try {
      const outcome = await root(volume)?.manifest(file);
      if (outcome === undefined) return true;
      if (!outcome.ok) {
        tell(
          outcome.reason,
          { volume, file: file.path, reason: outcome.reason },
          `${where}: ${display(outcome.detail)}`,
        );
        return true;
      }
      if (outcome.files.length === 0) return true;
      const on = { volume, base: outcome.base };
      const name = outcome.base === '' ? volume : baseName(outcome.base);
      const { files, gap } = outcome;
      await onManifest({ source: 'manifest', name, layout: null, place: file.path, on, gap, files });
      return true;
    } catch (error) {
      log.debug({ volume, error: messageOf(error) }, `${where} was not read as a manifest; tried again`);
      return false;
    }
  }

  /** A name alone is no promise; what calls itself a manifest and is broken must be said. */
  function tell(reason: string, fields: object, message: string): void {
    if (reason === 'not-a-manifest') log.debug(fields, message);
    else log.warn(fields, `Not usable as a manifest: ${message}. What it lists is not waited for.`);
  }

  return {
    note(volume, files) {
      for (const file of files) {
        if (!isManifestName(file.path)) continue;
        const key = `${volume}\n${file.path}`;
        if (waiting.size >= MOST && !waiting.has(key)) continue;
        waiting.set(key, { volume, file, tries: 0, dueAt: clock.ticks() + QUIET_MS });
        plan();
      }
    },
    stop() {
      stopped = true;
      cancel();
    },
  };
}
