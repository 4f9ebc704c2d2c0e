import { type ArrayLevel, dataMembers } from './array-level.ts';

/** What a volume is made of, as far as its speed goes. */
export interface SpeedLayout {
  level: ArrayLevel;
  members: number;
  drive: 'nvme' | 'ssd' | 'hdd';
  /** What its link gives at most, bytes per second, and whether each member has a share of its lanes; `null`: not known. */
  link: { bps: number; lanes: boolean } | null;
  /** What each member's own link gives at most, bytes per second; `null`: not known. */
  each?: number | null;
}

/** Bytes per second for one long stream, and how far from it the truth may lie. */
export interface ExpectedSpeed {
  readBps: number;
  writeBps: number;
  /** Standard deviation of the logarithm: with .35 four in five volumes give between .64 and 1.57 times as much. */
  logSd: number;
}

const MB = 1_000_000;

/** One drive of each kind at its fastest, bytes per second. Common practice, no source. */
const ONE_DRIVE: Readonly<Record<SpeedLayout['drive'], number>> = { nvme: 3000 * MB, ssd: 520 * MB, hdd: 180 * MB };

/** Each further member adds this share of the first: fits the trade's rule of thumb for flash stripes (1, 1.5, 2, 2.5 to 3). */
const EACH_FURTHER = 0.55;

/** What is left of a drive's rate behind file system and system. Common practice, no source. */
const BEHIND_FILE_SYSTEM = 0.92;
const OF_LINK = 0.95;

/** Levels beside a stripe of as many data members; parity costs writes more than reads. Common practice, no source. */
const LEVEL: Readonly<Record<ArrayLevel, { read: number; write: number }>> = {
  single: { read: 1, write: 1 },
  '0': { read: 1, write: 1 },
  '1': { read: 1, write: 1 },
  '10': { read: 1, write: 1 },
  '4': { read: 1, write: 0.85 },
  '5': { read: 0.95, write: 0.75 },
  '6': { read: 0.95, write: 0.65 },
};

/**
 * What a volume of this layout can be expected to give before anything was measured: members do not add up, a shared link caps
 * them, and drives behind the lanes of one link have their share of these and no more, and none gives more than its own link.
 */
export function expectedSpeed({ level, members, drive, link, each }: SpeedLayout): ExpectedSpeed {
  const share = link?.lanes === true ? link.bps / members : Number.POSITIVE_INFINITY;
  const own = each ?? Number.POSITIVE_INFINITY;
  const stripe = Math.min(ONE_DRIVE[drive], share, own) * scaled(dataMembers(level, members)) * BEHIND_FILE_SYSTEM;
  const most = (link?.bps ?? Number.POSITIVE_INFINITY) * OF_LINK;
  const { read, write } = LEVEL[level];
  return { readBps: Math.min(most, stripe * read), writeBps: Math.min(most, stripe * write), logSd: 0.35 };
}

/** So many members give so many times what one gives. */
function scaled(members: number): number {
  return 1 + EACH_FURTHER * (members - 1);
}
