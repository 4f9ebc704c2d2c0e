import { createHash } from 'node:crypto';
import * as nodeFs from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Assessment } from '../core/assess/assessment.ts';
import { paceOn } from '../core/backup/pace.ts';
import type { Log } from '../core/ports.ts';
import { createCopyPort } from '../rim/backup/copy-port.ts';
import { createCardListReader } from '../rim/card/card-list-reader.ts';
import { createCardReader } from '../rim/card/card-reader.ts';
import { createCardWatch } from '../rim/card/card-watch.ts';
import { createListPort } from '../rim/manifest/list-port.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { type LinkFs, resolveLinks } from '../rim/volume/linked-path.ts';
import { findMount, type Mount, parseMounts, readMountTable } from '../rim/volume/mount.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { type CardFlow, type CardVolume, createCardFlow } from './cards/card-flow.ts';
import type { StoreTrouble } from './store-trouble.ts';

export interface CardParts {
  settings: FullSettings;
  store: Store;
  trouble: StoreTrouble;
  log: Log;
  volumes: () => readonly CardVolume[];
  assessment: () => Assessment;
  changed: () => void;
  /** The mount table was looked at once more. */
  looked: () => void;
}

export interface ComposedCards {
  flow: CardFlow;
  /** Begins to look for mounted cards, unless that is switched off. */
  watch(): void;
  stop(): Promise<void>;
}

const listEntry = fileURLToPath(new URL('./compose-list.ts', import.meta.url));
const cardListEntry = fileURLToPath(new URL('./compose-card-list.ts', import.meta.url));
const cardEntry = fileURLToPath(new URL('./compose-card.ts', import.meta.url));

/** The cards' flow with its store, and the watch over mounted cards in front of it. */
export function composeCards({
  settings,
  store,
  trouble,
  log,
  volumes,
  assessment,
  changed,
  looked,
}: CardParts): ComposedCards {
  const { catalogue, ledger, cards } = store;
  const cardLists = createCardListReader({ entry: cardListEntry });
  const flow = createCardFlow({
    volumes,
    catalogue,
    ledger,
    store: cards,
    look: cards,
    lists: createListPort(listEntry),
    cardLists,
    keptLists: cards,
    contents: cards,
    reader: createCopyPort({ clock: systemClock }),
    pace: (volume) => paceOn(assessment(), volume),
    trouble,
    clock: systemClock,
    log,
    // Of a volume that is not watched any more nothing is exposed.
    wantedCopies: (name) => assessment().volumes.find((volume) => volume.name === name)?.wanted.copies ?? 0,
    stalledAfter: settings.arrivals.stalledAfter,
    digest: (text) => createHash('sha256').update(text).digest('hex'),
    changed,
  });
  const watch = createCardWatch({
    table: () => {
      looked();
      return readMountTable(nodeFs);
    },
    parse: parseMounts,
    under: settings.cards.under,
    volumes: (mounts) => mountPointsOf(settings, mounts as readonly Mount[], nodeFs),
    reader: createCardReader({ entry: cardEntry, clock: systemClock }),
    clock: systemClock,
    log,
    onEvent: (event) => {
      if (event.type === 'read') flow.read(event.mount.mountPoint, event.reading);
      else flow.gone(event.mount.mountPoint);
    },
  });
  return {
    flow,
    watch() {
      if (settings.cards.look) watch.start();
    },
    async stop() {
      watch.stop();
      cardLists.stop();
      await flow.stop();
    },
  };
}

/** Where the volumes and shelves lie: no cards, whatever lies on them. A place may be named through a link. */
export function mountPointsOf(
  { volumes, shelves }: { [Places in 'volumes' | 'shelves']: readonly { path: string }[] },
  mounts: readonly Mount[],
  fs: LinkFs,
): Set<string> {
  const places = [...volumes, ...shelves].map(({ path }) => resolveLinks(path, mounts, fs));
  return new Set(places.flatMap((place) => findMount(mounts, place)?.mountPoint ?? []));
}
