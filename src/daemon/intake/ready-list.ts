import type { Arrival } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';

/** An arrival stays on the list for this long after it is ready, so that a person who looks up sees it come. */
const shownMs = 60_000;
const shownMost = 20;

export interface ReadyList {
  add(line: Arrival): void;
  lines(): Arrival[];
}

export function createReadyList(clock: Clock): ReadyList {
  let lines: { line: Arrival; at: number }[] = [];
  return {
    add(line) {
      lines = [...lines.slice(1 - shownMost), { line, at: clock.ticks() }];
    },
    lines() {
      lines = lines.filter(({ at }) => clock.ticks() - at < shownMs);
      return lines.map(({ line }) => line);
    },
  };
}
