import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { pageToken } from '../rim/system/state-files.ts';
import { openPageDoor } from '../rim/web/doors.ts';
import type { WebSource } from '../rim/web/routes.ts';
import type { Settings } from '../settings/settings.ts';
import type { Lifecycle } from './lifecycle.ts';

/** The page's address with its token; `null` when it is off. A port that is taken costs the page, nothing else. */
export async function openPage(
  source: WebSource,
  { log, settings: { page }, stateDir }: { log: Log; settings: Pick<Settings, 'page'>; stateDir: string },
  lifecycle: Lifecycle,
): Promise<string | null> {
  if (!page.enabled) return null;
  try {
    const token = pageToken(stateDir);
    const door = await openPageDoor(page.port, token, source, { openMetrics: page.metrics });
    lifecycle.defer('the status page', door.close);
    return `${door.address}?token=${token}`;
  } catch (error) {
    log.warn({ error: messageOf(error) }, messageOf(error));
    return null;
  }
}
