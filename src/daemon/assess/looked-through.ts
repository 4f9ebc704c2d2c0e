import { messageOf } from '../../core/fault.ts';
import type { Log } from '../../core/ports.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { VolumeSource } from './volume-source.ts';

/** Which volumes were looked through from end to end since the catalogue was begun, over restarts. */
export interface LookedThrough {
  start(): Promise<void>;
  has(volume: string): boolean;
}

/** While a new catalogue is being filled, what it does not know yet may be there: nothing may be told as gone from it. */
export function createLookedThrough(
  catalogue: Pick<CataloguePort, 'recall' | 'remember'>,
  volumes: readonly Pick<VolumeSource, 'settings' | 'complete'>[],
  log: Log,
): LookedThrough {
  const done = new Set<string>();
  const keyOf = (volume: string) => `looked-through:${volume}`;
  return {
    async start() {
      for (const { settings } of volumes) {
        if ((await catalogue.recall(keyOf(settings.name))) !== null) done.add(settings.name);
      }
    },
    has(name) {
      if (done.has(name)) return true;
      if (!volumes.some(({ settings, complete }) => settings.name === name && complete())) return false;
      done.add(name);
      catalogue
        .remember(keyOf(name), 'yes')
        .catch((error) => log.debug({ volume: name, error: messageOf(error) }, 'not kept that it was looked through'));
      return true;
    },
  };
}
