import * as nodeFs from 'node:fs';
import { fileURLToPath } from 'node:url';
import { messageOf } from '../core/fault.ts';
import type { FileStat } from '../core/model.ts';
import { display } from '../core/present/escape.ts';
import type { CataloguePort } from '../core/store-ports.ts';
import { formatCount } from '../core/units.ts';
import { systemClock } from '../rim/system/clock.ts';
import { mountOf } from '../rim/volume/mount.ts';
import { decodeKnownMount, encodeKnownMount } from '../rim/watch/drive.ts';
import { type RemoteRoot, remoteRoot } from '../rim/watch/remote-root.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import type { VolumeSource } from './assess/volume-source.ts';
import type { CardVolume } from './cards/card-flow.ts';
import type { DaemonOptions } from './compose.ts';
import type { Monitor } from './compose-monitor.ts';
import { createIngestFlow, type IngestFlow } from './intake/ingest-flow.ts';
import type { StoreTrouble } from './store-trouble.ts';

const rootEntry = fileURLToPath(new URL('./compose-root.ts', import.meta.url));

export interface VolumeMount {
  mountPoint: string;
  fileSystem: string;
  source: string;
}

export interface WatchedWorld {
  catalogue: CataloguePort;
  trouble: StoreTrouble;
  monitor: Monitor;
  touch: (volume: string, project: string | null) => void;
  arrivalsChanged: () => void;
  noticed: (volume: string, files: readonly FileStat[]) => void;
  swept: (volume: string) => void;
}

export interface Watched {
  source: VolumeSource;
  root: RemoteRoot;
  flow: IngestFlow;
  card: CardVolume;
  mount: VolumeMount | null;
}

/**
 * A volume with its own process and flow. Where it was mounted last, and which drive that was, is remembered: neither
 * an empty mount point nor another drive is the volume.
 */
export async function watchVolume(
  volume: VolumeSettings,
  { catalogue, trouble, monitor, touch, arrivalsChanged, noticed, swept }: WatchedWorld,
  { log, ruleTold, settings }: DaemonOptions,
): Promise<Watched> {
  const key = `mount:${volume.name}:${volume.path}`;
  const marks = monitor.volume(volume.name);
  const root = remoteRoot({
    root: volume.path,
    settings: { sweepEvery: settings.arrivals.sweepEvery, fullSweepEvery: settings.arrivals.fullSweepEvery },
    scope: { ingest: volume.ingest, ignore: volume.ignore },
    entry: rootEntry,
    clock: systemClock,
    log,
    known: decodeKnownMount(await catalogue.recall(key)),
    heard: marks.heard,
    onMounted: (known) => {
      if (known.mountPoint !== null)
        catalogue
          .remember(key, encodeKnownMount(known))
          .catch((error) => log.debug({ error: messageOf(error) }, 'mount point not kept'));
    },
  });
  const flow = createIngestFlow({
    volume,
    limits: settings.arrivals,
    root: marks.root(root),
    mark: marks.intake,
    catalogue,
    trouble,
    clock: systemClock,
    log,
    ruleTold: (told) => ruleTold(volume, told),
    touched: (project) => touch(volume.name, project),
    arrivalsChanged,
    noticed: (files) => noticed(volume.name, files),
    swept: ({ files, folders, seconds }) => {
      swept(volume.name);
      log.info(
        { event: 'swept', volume: volume.name, files, folders, seconds },
        `${display(volume.name)}: ${formatCount(files, 'file')} in ${formatCount(folders, 'folder')} were found.`,
      );
    },
  });
  const mount = mountOf(nodeFs, volume.path);
  const source: VolumeSource = {
    settings: volume,
    fileSystem: mount?.fileSystem ?? null,
    mountOptions: mount?.options ?? [],
    mountedFrom: mount?.device ?? null,
    state: flow.state,
    complete: flow.complete,
    space: () => root.space(),
    arrivals: flow.arrivals,
  };
  const card = {
    ...{ name: volume.name, path: volume.path },
    root,
    complete: flow.complete,
    live: () => flow.state().state === 'live',
    starting: () => flow.state().state === 'starting',
  };
  return { source, root, flow, card, mount };
}
