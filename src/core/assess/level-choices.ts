import { type ArrayLevel, dataMembers } from './array-level.ts';
import { expectedSpeed, type SpeedLayout } from './expected-speed.ts';
import { lossChance, NIGHT_HOURS, type Wear, YEAR_HOURS } from './protection.ts';
import { readBudget } from './speed-budget.ts';
import type { VolumeGives } from './volume-speed.ts';

/** What the same members would be, put together at some level. */
export interface LevelChoice {
  level: ArrayLevel;
  members: number;
  isNow: boolean;
  usableBytes: number;
  /** With the reserve off, for as many streams as asked. */
  readBudgetBps: number;
  writeBudgetBps: number;
  /** Chance that all of it is lost, 0..1. */
  lossYear: number;
  lossNight: number;
  /** Members that may fail without loss, whichever they are. */
  survives: number;
}

/**
 * Wear that is reckoned with. Drives: 1.5 in a hundred a year (common practice, no source; large published collections lie between
 * .5 and 3); a day until one is replaced and filled again; one loss in a hundred years from all other causes (judgement).
 */
export const USUAL_WEAR: Wear = { failsInYear: 0.015, repairHours: 24, otherInYear: 0.01 };

export interface ArrayNow {
  layout: SpeedLayout;
  totalBytes: number;
  gives: VolumeGives;
  reserve: number;
}

/**
 * Every level that so many members can have, the present one first. Speeds are what the volume gives now, in the ratio of what the
 * layouts let expect: so a measurement of the present one counts for the others.
 */
export function levelChoices({ layout, totalBytes, gives, reserve }: ArrayNow, streams: number): LevelChoice[] {
  const now = expectedSpeed(layout);
  const memberBytes = totalBytes / dataMembers(layout.level, layout.members);
  const choice = (level: ArrayLevel): LevelChoice => {
    const then = expectedSpeed({ ...layout, level });
    const { members } = layout;
    return {
      level,
      members,
      isNow: level === layout.level,
      usableBytes: memberBytes * dataMembers(level, members),
      readBudgetBps: readBudget(gives, reserve, streams) * (then.readBps / now.readBps),
      writeBudgetBps: gives.write.likely * (1 - reserve) * (then.writeBps / now.writeBps),
      lossYear: lossChance(level, members, USUAL_WEAR, YEAR_HOURS),
      lossNight: lossChance(level, members, USUAL_WEAR, NIGHT_HOURS),
      survives: survives(level, members),
    };
  };
  const others = levelsOf(layout.members).filter((level) => level !== layout.level);
  return [layout.level, ...others].map(choice);
}

/** Fewest members of each level: Chen et al. 1994 (striping and mirroring 2, one parity member 3, two 4); level 10 two pairs. */
function levelsOf(members: number): ArrayLevel[] {
  const levels: ArrayLevel[] = [];
  if (members >= 2) levels.push('0');
  if (members === 2) levels.push('1');
  if (members >= 4 && members % 2 === 0) levels.push('10');
  if (members >= 3) levels.push('4', '5');
  if (members >= 4) levels.push('6');
  return levels;
}

function survives(level: ArrayLevel, members: number): number {
  if (level === '1') return members - 1;
  if (level === '6') return 2;
  return level === 'single' || level === '0' ? 0 : 1;
}
