import { AngleSessions } from '../../../src/core/assess/angle-sessions.ts';
import type { AngleClip } from '../../../src/core/assess/clip-times.ts';
import { bareTimecode, CONDITIONS, pairsAmong, shootUnder } from '../../core/assess/multicam-days.ts';
import type { Figure } from '../figure.ts';
import { oneMoreClip } from './one-more-clip.ts';

const SHOOTS = 40;

/** Pairs of clips that ran together, under each discipline of timecode; and what one more clip of a large project costs. */
export async function measureMulticam(): Promise<Figure[]> {
  return [...CONDITIONS.flatMap(pairFigures), ...oneMoreClip()];
}

interface Counted {
  found: number;
  right: number;
}

function pairFigures(condition: (typeof CONDITIONS)[number]): Figure[] {
  let truth = 0;
  const ours: Counted = { found: 0, right: 0 };
  const bare: Counted = { found: 0, right: 0 };
  for (let seed = 1; seed <= SHOOTS; seed++) {
    const { clips, pairs } = shootUnder(condition, 1000 + seed);
    truth += pairs.size;
    count(ours, foundPairs(clips), pairs);
    count(bare, pairsAmong(bareTimecode(clips)), pairs);
  }
  const share = (part: number, all: number) => (all === 0 ? 100 : (100 * part) / all);
  // Nothing in such files tells when they were recorded: nothing can be found, and nothing must be claimed.
  const isHopeless = condition.startsWith('copied');
  const precision = share(ours.right, ours.found);
  const recall = share(ours.right, truth);
  const barePeer = (value: number) => ({ name: 'timecode alone', value });
  return [
    {
      name: `multicam pairs, ${condition}: precision`,
      ...{ value: precision, unit: '%', peer: barePeer(share(bare.right, bare.found)) },
      ...{ goal: '>= 99 %', holds: precision >= 99 },
    },
    {
      name: `multicam pairs, ${condition}: recall`,
      ...{ value: recall, unit: '%', peer: barePeer(share(bare.right, truth)) },
      ...(isHopeless ? { goal: null, holds: null } : { goal: '>= 99 %', holds: recall >= 99 }),
    },
  ];
}

function foundPairs(clips: readonly AngleClip[]): Set<string> {
  const sessions = new AngleSessions();
  for (const clip of clips) sessions.put(clip);
  return new Set(sessions.spans().flatMap((spans) => [...pairsAmong(spans)]));
}

function count(counted: Counted, found: ReadonlySet<string>, truth: ReadonlySet<string>): void {
  counted.found += found.size;
  counted.right += [...found].filter((pair) => truth.has(pair)).length;
}
