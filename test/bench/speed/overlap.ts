import { findMulticam } from '../../../src/core/assess/multicam.ts';
import type { ClipSpan } from '../../../src/core/assess/spans.ts';
import { generator } from '../../core/assess/noisy-day.ts';
import type { Figure } from '../figure.ts';

const SETS = 500;
const CAMERAS = ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'I'];

/** The most cameras at once, in random sets, beside looking at every start against every clip. */
export async function measureOverlap(): Promise<Figure[]> {
  const random = generator(5);
  let different = 0;
  for (let set = 0; set < SETS; set++) {
    const spans = Array.from({ length: 2 + Math.floor(random() * 60) }, (_, index) => randomSpan(index, random));
    const found = findMulticam(spans).reduce((most, { angles }) => Math.max(most, angles), 1);
    if (found !== bruteForce(spans)) different += 1;
  }
  const figure = { value: different, unit: '', peer: null, goal: '0', holds: different === 0 };
  return [{ name: `peak concurrency that differs from brute force, of ${SETS} random sets`, ...figure }];
}

/** Whole steps of four seconds: every overlap is then long enough to count. */
function randomSpan(index: number, random: () => number): ClipSpan {
  const start = 4 * Math.floor(random() * 100);
  return {
    ...{ unit: String(index), path: String(index), readyAt: 0, reel: null, startTimecode: null, frameRate: null },
    camera: CAMERAS[Math.floor(random() * CAMERAS.length)] ?? null,
    cameraConfidence: 1,
    startSeconds: start,
    endSeconds: start + 4 * (1 + Math.floor(random() * 15)),
    ...{ timeline: 'shared', clockBasis: 'timecode', setBackSeconds: 0, toWallSeconds: 0 },
    ...{ rateBps: 1e8, sdBps: 0 },
  };
}

function bruteForce(spans: readonly ClipSpan[]): number {
  const at = (moment: number) =>
    new Set(
      spans
        .filter(({ startSeconds, endSeconds }) => startSeconds <= moment && moment < endSeconds)
        .map(({ camera }) => camera),
    );
  return Math.max(...spans.map(({ startSeconds }) => at(startSeconds).size));
}
