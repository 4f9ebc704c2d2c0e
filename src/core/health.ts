import type { Instant } from './model.ts';
import { PLAIN_TEXT, type PlainAnswer } from './plain-answer.ts';
import { display } from './present/escape.ts';
import { VOLUME_STATES } from './present/wording.ts';
import type { RootState } from './root-port.ts';
import { formatAge, isoWithOffset } from './units.ts';

/** What a part of the daemon left behind when it moved last. */
export interface LoopMark {
  loop: string;
  /** The volume, shelf or channel it works for; `null`: for all. */
  of: string | null;
  /** Monotonic, ms. */
  movedAt: number;
  /** It moves at least this often while it is well, ms. */
  patienceMs: number;
  /** Of a loop that works only when there is something to do: how much is waited for. `null`: it moves by itself. */
  waiting: number | null;
  /** It stands still when something outside does, such as a mount: starting headroomd again would not help. */
  isOutside: boolean;
}

/** One loop, as it is at an instant. */
export interface LoopHealth extends Pick<LoopMark, 'loop' | 'of' | 'waiting' | 'isOutside'> {
  movedAt: Instant;
  patienceSeconds: number;
  standsStill: boolean;
}

/** The same instant by both clocks: monotonic, and ms since 1970. */
export interface Moment {
  ticks: number;
  now: Instant;
}

/** How each loop is: one that has nothing to do is well, however long it has been so. */
export function loopsHealth(marks: readonly LoopMark[], { ticks, now }: Moment): LoopHealth[] {
  return marks.map(({ loop, of, waiting, isOutside, movedAt, patienceMs }) => {
    const idleMs = Math.max(0, ticks - movedAt);
    return {
      ...{ loop, of, waiting, isOutside, movedAt: now - idleMs, patienceSeconds: patienceMs / 1000 },
      standsStill: waiting !== 0 && idleMs > patienceMs,
    };
  });
}

/** 200 while every loop has moved within its patience, else 503 with those that have not, since when, and what to do. */
export function healthAnswer(loops: readonly LoopHealth[], now: Instant, zone: string): PlainAnswer {
  const still = loops.filter(({ standsStill }) => standsStill);
  if (still.length === 0) return { status: 200, type: PLAIN_TEXT, body: 'ok\n' };
  return { status: 503, type: PLAIN_TEXT, body: still.map((loop) => `${sentence(loop, now, zone)}\n`).join('') };
}

function sentence({ loop, of, movedAt, patienceSeconds, isOutside }: LoopHealth, now: Instant, zone: string): string {
  const name = of === null ? loop : `${loop} of ${display(of)}`;
  const since = `since ${isoWithOffset(movedAt, zone)}, ${formatAge((now - movedAt) / 1000)}`;
  const todo = isOutside
    ? 'What it waits for does not answer: check drive, cable, network and server.'
    : 'Start headroomd again; nothing is lost by that.';
  return `${name}: stands still ${since} (it moves at least every ${patienceSeconds} s while it is well). ${todo}`;
}

/** 200 when of every volume it is known how it is, be it live, away or hung; else 503 with those that are still starting. */
export function readinessAnswer(volumes: readonly { name: string; state: RootState }[]): PlainAnswer {
  const starting = volumes.filter(({ state }) => state === 'starting');
  const shown = starting.length === 0 ? volumes : starting;
  const lines = shown.map(({ name, state }) => `${display(name)}: ${VOLUME_STATES[state]}\n`).join('');
  if (starting.length === 0) return { status: 200, type: PLAIN_TEXT, body: `ready\n${lines}` };
  return { status: 503, type: PLAIN_TEXT, body: `not ready: folders are being read\n${lines}` };
}
