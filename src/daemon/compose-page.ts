import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import type { PageState } from '../core/present/html/block.ts';
import { volumePlots } from '../core/present/html/plots.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import type { LedgerPort } from '../core/store-ports.ts';
import { systemClock } from '../rim/system/clock.ts';
import { pageToken } from '../rim/system/state-files.ts';
import { createAsset } from '../rim/web/assets.ts';
import { openPageDoor } from '../rim/web/doors.ts';
import { createLive, type Live } from '../rim/web/live.ts';
import type { PageSource } from '../rim/web/page-routes.ts';
import type { DaemonOptions } from './compose.ts';
import type { Lifecycle } from './lifecycle.ts';

/** Two days by the minute, and as far back as the longest plot goes. */
const MINUTES_MS = 48 * 3_600_000;
const HOURS_MS = 31 * 24 * 3_600_000;

/** What `prepare` made of `src/page`. */
const built = (name: string) => fileURLToPath(new URL(`../page/built/${name}`, import.meta.url));

/** What the plots of the page draw, of the volumes that the snapshot has. */
export function composePlots(
  ledger: Pick<LedgerPort, 'moments'>,
  names: readonly string[],
  current: () => Snapshot,
  zone: string,
): () => Promise<unknown> {
  return async () => {
    const at = systemClock.now();
    const snapshot = current();
    // The snapshot's names are escaped for display: its volumes are in the order of the settings.
    const volumes = snapshot.volumes.map(async (volume, place) => {
      const name = names[place] ?? volume.name;
      const [minutes, hours] = await Promise.all([
        ledger.moments(name, 'minute', at - MINUTES_MS),
        ledger.moments(name, 'hour', at - HOURS_MS),
      ]);
      return volumePlots(volume, { minutes, hours, at });
    });
    return { zone, volumes: await Promise.all(volumes) };
  };
}

/** Keeps open pages as things are. */
export function composeLive(state: () => PageState): Live {
  return createLive(state);
}

/** A port that is taken costs the page, nothing else. */
export async function openPage(
  source: PageSource,
  live: Live,
  { log, settings, stateDir }: Pick<DaemonOptions, 'log' | 'settings' | 'stateDir'>,
  lifecycle: Lifecycle,
): Promise<string | null> {
  if (!settings.page.enabled) return null;
  try {
    const token = pageToken(stateDir);
    const script = createAsset(builtFile('page.js', log), 'text/javascript; charset=utf-8');
    const style = createAsset(builtFile('page.css', log), 'text/css; charset=utf-8');
    const door = await openPageDoor(settings.page.port, token, source, {
      script,
      style,
      live,
      openMetrics: settings.page.metrics,
    });
    lifecycle.defer('the status page', door.close);
    lifecycle.defer('open pages', async () => live.close());
    return `${door.address}?token=${token}`;
  } catch (error) {
    log.warn({ error: messageOf(error) }, messageOf(error));
    return null;
  }
}

/** Without it the page is plain, and says the same. */
function builtFile(name: string, log: Log): Buffer {
  try {
    return readFileSync(built(name));
  } catch (error) {
    log.warn(
      { error: messageOf(error) },
      `${built(name)} is not there, so the page is plain and does not follow by itself; "npm ci" or "npm run prepare" in headroomd's folder makes it.`,
    );
    return Buffer.alloc(0);
  }
}
