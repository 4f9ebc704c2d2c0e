import type { Clock } from '../core/ports.ts';
import {
  NOTHING_TOLD,
  type ServiceHealth,
  type ServicePort,
  type ServiceView,
  serviceNotice,
} from '../core/service-notice.ts';

/** Keeps the service manager told of how the daemon is. */
export interface ServiceTalk {
  /** The daemon is there, and tells from now on how it is. */
  running(health: () => ServiceHealth): void;
  reloading(): void;
  stopping(): void;
  /** Ends when the last word was handed over. Never rejects. */
  close(): Promise<void>;
}

const LOOK_MS = 2_000;

/** Without a watchdog it is told this often that a first reading goes on. */
const PULSE_MS = 30_000;

/** Three words in the watchdog's time: one may come late, and one be lost. */
const WORDS_IN_TIME = 3;

/** Begins at once. */
export function createServiceTalk(port: ServicePort, clock: Clock): ServiceTalk {
  const pulseMs = port.watchdogMs === null ? PULSE_MS : port.watchdogMs / WORDS_IN_TIME;
  const lookMs = Math.min(LOOK_MS, pulseMs);
  let told = NOTHING_TOLD;
  let view: () => ServiceView = () => ({ phase: 'opening' });
  let cancel = () => {};

  function look(): void {
    const pace = { ticks: clock.ticks(), pulseMs, hasWatchdog: port.watchdogMs !== null };
    const notice = serviceNotice(told, view(), pace);
    told = notice.told;
    if (notice.assignments.length > 0) port.say(notice.assignments);
    cancel();
    cancel = clock.after(lookMs, look);
  }

  function turnTo(next: () => ServiceView): void {
    view = next;
    look();
  }

  look();
  return {
    running: (health) => turnTo(() => ({ phase: 'running', ...health() })),
    reloading: () => turnTo(() => ({ phase: 'reloading' })),
    stopping: () => turnTo(() => ({ phase: 'stopping' })),
    close() {
      cancel();
      return port.close();
    },
  };
}

/** For who was not started by a service manager. */
export const NO_TALK: ServiceTalk = { running() {}, reloading() {}, stopping() {}, async close() {} };
