import type { LoopHealth } from './health.ts';
import { display } from './present/escape.ts';
import type { RootState } from './root-port.ts';

/** The service manager that started this program and watches it (systemd: sd_notify(3)). */
export interface ServicePort {
  /** It wants to hear at least this often that all is well, ms; `null`: it does not ask for that. */
  watchdogMs: number | null;
  /** Tells it these assignments together. Never blocks, never throws. */
  say(assignments: readonly string[]): void;
  /** Ends when what was said has been handed over, within 2 s. Never rejects. */
  close(): Promise<void>;
}

/** How the daemon is, as far as its service manager is concerned. */
export interface ServiceHealth {
  volumes: readonly { name: string; state: RootState }[];
  loops: readonly LoopHealth[];
}

export type ServiceView =
  | { phase: 'opening' | 'reloading' | 'stopping' }
  /** All parts of the daemon are there; its folders may still be read for the first time. */
  | ({ phase: 'running' } & ServiceHealth);

/** What the service manager was told so far. */
export interface ServiceTold {
  phase: 'opening' | 'ready' | 'reloading' | 'stopping';
  status: string | null;
  /** When it was last told that all is well, monotonic, ms. */
  pulseAt: number;
}

export interface ServicePace {
  /** Monotonic, ms. */
  ticks: number;
  /** So often it is told that all is well, ms. */
  pulseMs: number;
  hasWatchdog: boolean;
}

export const NOTHING_TOLD: ServiceTold = { phase: 'opening', status: null, pulseAt: Number.NEGATIVE_INFINITY };

/** A first reading that goes on may take this much longer each time that it is told so, ms. */
const READING_MORE_MS = 180_000;

const VOLUMES_NAMED = 6;

/**
 * What the service manager is to be told now, as assignments of sd_notify(3), and what it was told then; mostly nothing.
 * It is told that all is well only while no loop of ours stands still. One that waits for something outside, such as a mount
 * that hangs, does not count: to be started again would not help.
 */
export function serviceNotice(
  told: ServiceTold,
  view: ServiceView,
  pace: ServicePace,
): { assignments: string[]; told: ServiceTold } {
  if (told.phase === 'stopping') return { assignments: [], told };
  const phase = nextPhase(told, view);
  const status = statusOf(view);
  const pulse = pulseOf(told, view, phase, pace);
  return {
    assignments: [
      ...(phase === told.phase ? [] : PHASES[phase]),
      ...(status === told.status ? [] : [`STATUS=${status}`]),
      ...pulse,
    ],
    told: { phase, status, pulseAt: pulse.length === 0 ? told.pulseAt : pace.ticks },
  };
}

const PHASES: Readonly<Record<ServiceTold['phase'], readonly string[]>> = {
  opening: [],
  ready: ['READY=1'],
  reloading: ['RELOADING=1'],
  stopping: ['STOPPING=1'],
};

/** Ready is who knows how each volume is; what was begun (a start, a reload) goes on until then. */
function nextPhase(told: ServiceTold, view: ServiceView): ServiceTold['phase'] {
  if (view.phase !== 'running') return view.phase;
  return told.phase === 'ready' || isReady(view) ? 'ready' : told.phase;
}

const isReady = ({ volumes }: ServiceHealth) => volumes.every(({ state }) => state !== 'starting');

function pulseOf(told: ServiceTold, view: ServiceView, phase: ServiceTold['phase'], pace: ServicePace): string[] {
  const alive = pace.hasWatchdog ? ['WATCHDOG=1'] : [];
  // From the beginning of a reload on one patience of the watchdog is what it may take until the parts are there anew.
  if (view.phase === 'reloading') return told.phase === 'reloading' ? [] : alive;
  if (view.phase !== 'running' || pace.ticks - told.pulseAt < pace.pulseMs) return [];
  if (view.loops.some(({ standsStill, isOutside }) => standsStill && !isOutside)) return [];
  if (phase === 'ready') return alive;
  // The watchdog begins with the first such word, and a start has a time limit of its own.
  const more = `EXTEND_TIMEOUT_USEC=${READING_MORE_MS * 1000}`;
  return phase === 'reloading' ? [more, ...alive] : [more];
}

/** One line, for `systemctl status`. */
function statusOf(view: ServiceView): string {
  switch (view.phase) {
    case 'opening':
      return 'Opening the state folder.';
    case 'reloading':
      return 'Reading the configuration again.';
    case 'stopping':
      return 'Stopping.';
    case 'running':
      return `${volumesWords(view)}${stillWords(view)}`;
  }
}

const STATES: Readonly<Record<RootState, string>> = {
  starting: 'being read for the first time',
  live: 'live',
  absent: 'away',
  hung: 'does not answer',
};

function volumesWords({ volumes }: ServiceHealth): string {
  const named = volumes.slice(0, VOLUMES_NAMED).map(({ name, state }) => `${display(name)} (${STATES[state]})`);
  const rest = volumes.length > VOLUMES_NAMED ? ` and ${volumes.length - VOLUMES_NAMED} more` : '';
  return `Watching ${named.join(', ')}${rest}.`;
}

function stillWords({ loops }: ServiceHealth): string {
  const still = loops.filter(({ standsStill, isOutside }) => standsStill && !isOutside);
  if (still.length === 0) return '';
  const names = still.map(({ loop, of }) => (of === null ? loop : `${loop} of ${display(of)}`));
  return ` Stands still: ${names.join(', ')}.`;
}
