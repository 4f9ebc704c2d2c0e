import { settle } from '../../../src/core/intake/settle.ts';
import {
  newUnit,
  type SettleAction,
  type SettleEvent,
  type SettleState,
} from '../../../src/core/intake/settle-state.ts';
import type { SettleLimits } from '../../../src/core/intake/weigh.ts';
import type { FileStat } from '../../../src/core/model.ts';
import type { Evidence, Wholeness, Writers } from '../../../src/core/root-port.ts';

/** Seconds; the defaults of the settings. */
export const LIMITS: SettleLimits = { quiet: 0.3, quietWithoutStructure: 2, quietRemote: 30, stalledAfter: 600 };
export const NEVER = Number.POSITIVE_INFINITY;

/** A file as `lstat` tells it; `version` stands for its times. */
export function stat(path: string, size = 100, version = 1): FileStat {
  const times = BigInt(version);
  return { path, size, allocated: size, mtimeNs: times, ctimeNs: times, dev: 1n, ino: 1n, nlink: 1 };
}

export const WHOLE = { writers: 'none', wholeness: 'whole' } as const;
export interface Answer {
  writers: Writers;
  wholeness: Wholeness;
  detail?: string;
  error?: string;
  stat?: FileStat | null;
}

/** Walks a unit through events; keeps the time and the last action. */
export class Walk {
  state: SettleState = newUnit();
  now = 0;
  action: SettleAction = { do: 'forget' };
  readonly limits: SettleLimits;

  constructor(limits: Partial<SettleLimits> = {}) {
    this.limits = { ...LIMITS, ...limits };
  }

  send(event: SettleEvent, at = this.now): this {
    this.now = at;
    const step = settle(this.state, event, at, this.limits);
    this.state = step.state;
    this.action = step.action;
    return this;
  }

  seen(at: number, ...files: FileStat[]): this {
    return this.send({ type: 'seen', files }, at);
  }

  /** One that was seen to be open for writing at the same time. */
  seenOpen(at: number, file: FileStat): this {
    return this.send({ type: 'seen', files: [file], open: true }, at);
  }

  /** Ticks when the state asks for it, until it wants something done or `until` is reached. */
  wait(until = NEVER): this {
    while (this.action.do === 'wait' && this.state.wakeAt <= until) this.send({ type: 'tick' }, this.state.wakeAt);
    if (this.action.do === 'wait' && until !== NEVER) this.now = until;
    return this;
  }

  /** Answers an inspection 20 ms later, alike for every path or by name. */
  answer(given: Answer | Record<string, Answer>, files: readonly FileStat[] = [stat('A001.mov')]): this {
    if (this.action.do !== 'inspect') throw new Error(`nothing was asked: ${this.action.do}`);
    const { generation, paths } = this.action;
    const evidence = paths.map((path): Evidence => {
      const answer: Answer | undefined =
        'writers' in given ? (given as Answer) : (given as Record<string, Answer>)[path];
      const found = answer?.stat === undefined ? (files.find((file) => file.path === path) ?? null) : answer.stat;
      const { writers = 'none', wholeness = 'no-structure', detail = null, error = null } = answer ?? {};
      return { path, stat: error === null ? found : null, error, writers, wholeness, detail };
    });
    return this.send({ type: 'evidence', generation, evidence }, this.now + 0.02);
  }
}

/** One clip, seen at 10 s. */
export const arrived = () => new Walk().seen(10, stat('A001.mov'));
