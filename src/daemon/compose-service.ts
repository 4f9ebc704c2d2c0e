import type { Log } from '../core/ports.ts';
import { systemClock } from '../rim/system/clock.ts';
import { openServiceManager } from '../rim/system/service-manager.ts';
import { createServiceTalk, NO_TALK, type ServiceTalk } from './service-talk.ts';

/** Tells the service manager that started this process, if one did, how things are; to be called before anything else is started. */
export function composeService(log: Log): ServiceTalk {
  const port = openServiceManager(process.env, process.pid, (why) =>
    log.warn(
      { event: 'service-manager', why },
      `The service manager cannot be told how headroomd is (${why}), and may end it for that. Is systemd-notify, which comes with systemd, on the PATH?`,
    ),
  );
  return port === null ? NO_TALK : createServiceTalk(port, systemClock);
}
