import { DAY, type TimedClip } from './clip-times.ts';

/** How a camera's timecode runs: with the clock, or only while it records. */
export type TimecodeMode = 'free-run' | 'record-run' | 'unknown';

/** Clips closer together than this tell nothing: a clock and a counter go on alike. */
const SHORTEST_GAP = 10;
const MAJORITY = 0.7;

/** So many clips in a row that begin where the one before ended are no chance. */
const IN_A_ROW = 3;

/**
 * How the timecode of one camera ran, from each two successive clips: by how much it went on beside the length of the first clip, and
 * beside the time that passed. Where no time is known, a timecode that never waits between clips is taken to run only while they are
 * recorded. `clips`: of one camera, in any order.
 */
export function timecodeMode(clips: readonly TimedClip[]): TimecodeMode {
  const timed = clips.filter(({ timecode, wall }) => timecode !== null && wall !== null && wall.told !== 'day');
  if (timed.length < 2) return modeByItself(clips);
  const inOrder = timed.toSorted((one, other) => wallOf(one) - wallOf(other));
  const votes = { 'free-run': 0, 'record-run': 0, unknown: 0 };
  for (const [index, next] of inOrder.entries()) {
    const before = inOrder[index - 1];
    const vote = before === undefined ? null : modeBetween(before, next);
    if (vote !== null) votes[vote] += 1;
  }
  const all = votes['free-run'] + votes['record-run'] + votes.unknown;
  if (votes['record-run'] > 0 && votes['record-run'] >= MAJORITY * all) return 'record-run';
  return votes['free-run'] > 0 && votes['free-run'] >= MAJORITY * all ? 'free-run' : 'unknown';
}

/** By the timecode alone. */
function modeByItself(clips: readonly TimedClip[]): TimecodeMode {
  const inOrder = clips
    .filter(({ timecode }) => timecode !== null)
    .toSorted((one, other) => (one.timecode ?? 0) - (other.timecode ?? 0));
  const follows = inOrder.filter((next, index) => {
    const before = inOrder[index - 1];
    if (before === undefined) return false;
    return nearZero((next.timecode ?? 0) - (before.timecode ?? 0) - before.durationSeconds) < 1;
  });
  const enough = Math.max(IN_A_ROW, MAJORITY * (inOrder.length - 1));
  return follows.length >= enough ? 'record-run' : 'unknown';
}

/** `unknown`: the two fit neither; `null`: they are too close together to tell, and count for nothing. */
function modeBetween(before: TimedClip, next: TimedClip): TimecodeMode | null {
  const passed = wallOf(next) - wallOf(before);
  const gap = passed - before.durationSeconds;
  if (gap <= SHORTEST_GAP) return null;
  const wentOn = (next.timecode ?? 0) - (before.timecode ?? 0);
  if (nearZero(wentOn - before.durationSeconds) < 1) return 'record-run';
  return nearZero(wentOn - passed) < Math.max(3, 0.02 * gap) ? 'free-run' : 'unknown';
}

function wallOf({ wall }: TimedClip): number {
  return wall?.seconds ?? 0;
}

/** Distance from zero on the clock's round, seconds. */
function nearZero(seconds: number): number {
  const round = ((seconds % DAY) + DAY) % DAY;
  return Math.min(round, DAY - round);
}
