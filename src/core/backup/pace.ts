import type { Assessment } from '../assess/assessment.ts';
import type { Pace } from './copy-port.ts';
import type { Hindrance } from './due.ts';

/** Share of what a volume gives that may be in use before copying waits. */
const TIGHT = 0.7;

/**
 * How fast copying may read from a volume now: not at all while playback goes on that leaves little of what the volume gives, or while it has been
 * too much for minutes; else as it comes. What headroomd reads itself is not counted as others' load.
 */
export function paceOn(assessment: Assessment, name: string): Pace {
  return { paused: hindranceOn(assessment, name) !== null, ceilingBps: null };
}

/** What keeps a volume from being read for copies; `null`: nothing, or its load is not known. */
export function hindranceOn({ volumes, projects }: Assessment, name: string): Hindrance | null {
  const volume = volumes.find((one) => one.name === name);
  const load = volume?.load ?? null;
  if (volume === undefined || load === null) return null;
  const others = Math.max(0, load.readBps - load.ownReadBps) + load.writeBps;
  const { readBudgetBps, reserveShare } = volume.speed;
  const isTight = readBudgetBps !== null && others > (TIGHT * readBudgetBps) / (1 - reserveShare);
  if (!isTight) return null;
  if (projects.some(({ edit, sum }) => sum.volume === name && edit.beingRead.size > 0)) return 'playback';
  return load.isHigh ? 'volume-saturated' : null;
}
