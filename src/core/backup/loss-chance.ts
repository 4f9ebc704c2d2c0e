import type { ArrayLevel } from '../assess/array-level.ts';
import { lossChance, type Wear } from '../assess/protection.ts';
import type { Instant } from '../model.ts';

/** What a volume lies on, as far as losing it goes. */
export interface LossLayout {
  level: ArrayLevel;
  members: number;
  /** Members that have failed and are not replaced yet. */
  failed: number;
}

/** The chance that a volume is lost before its next backup ends, and what that was reckoned from. */
export interface LossBeforeBackup {
  /** 0..1. */
  chance: number;
  /** Until the backup ends. */
  hours: number;
  /** The parts of it: drives that wear out by themselves, and all else. The chance is that of either. */
  byDrives: number;
  byOther: number;
  wear: Wear;
}

/** `null` while it is not known when the next backup will end. */
export function lossBeforeBackup(
  layout: LossLayout,
  wear: Wear,
  now: Instant,
  backupEndsAt: Instant | null,
): LossBeforeBackup | null {
  if (backupEndsAt === null) return null;
  const hours = Math.max(0, backupEndsAt - now) / 3_600_000;
  const byDrives = drivesLoss(layout, { ...wear, otherInYear: 0 }, hours);
  const byOther = lossChance('single', 1, { ...wear, failsInYear: 0 }, hours);
  return { chance: either(byDrives, byOther), hours, byDrives, byOther, wear };
}

/**
 * An array with failed members stands like one of what is left: with one parity member gone a stripe, with one of two gone an array
 * of one, with half a pair gone a drive by itself. With more failed than it survives it is lost already.
 */
function drivesLoss({ level, members, failed }: LossLayout, wear: Wear, hours: number): number {
  const left = members - failed;
  if (failed === 0) return lossChance(level, members, wear, hours);
  switch (level) {
    case 'single':
    case '0':
      return 1;
    case '1':
      return left < 1 ? 1 : left === 1 ? lossChance('single', 1, wear, hours) : lossChance('1', left, wear, hours);
    case '10':
      return halvedPairs(members / 2, failed, wear, hours);
    case '4':
    case '5':
      return failed > 1 ? 1 : lossChance('0', left, wear, hours);
    case '6':
      return failed > 2 ? 1 : lossChance(failed === 1 ? '5' : '0', left, wear, hours);
  }
}

/** Each failed member is taken to be of another pair, as the array would be gone otherwise. */
function halvedPairs(pairs: number, failed: number, wear: Wear, hours: number): number {
  if (failed > pairs) return 1;
  const halves = lossChance('0', failed, wear, hours);
  return failed === pairs ? halves : either(halves, lossChance('10', 2 * (pairs - failed), wear, hours));
}

function either(one: number, other: number): number {
  return one + other - one * other;
}
