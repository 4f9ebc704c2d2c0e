import { createTask } from 'node-cron';
import type { NightlyTimer } from '../../core/backup/nightly-port.ts';
import { timetable, wakeText } from '../../core/backup/slots.ts';
import type { Log } from '../../core/ports.ts';

/** The timer of node-cron. What it has to say, of wakes that it missed above all, goes to the log. */
export function nightlyTimer(log: Log): NightlyTimer {
  const say = (level: 'debug' | 'error') => (message: string | Error) =>
    log[level]({ part: 'nightly' }, String(message));
  // A missed wake is no trouble: what was due is found within the minute.
  const logger = { debug: say('debug'), info: say('debug'), warn: say('debug'), error: say('error') };
  return {
    start(text, zone, onSlot) {
      const task = createTask(wakeText(timetable(text, zone)), onSlot, { timezone: zone, unref: true, logger });
      void task.start();
      return () => {
        void task.destroy();
      };
    },
  };
}
