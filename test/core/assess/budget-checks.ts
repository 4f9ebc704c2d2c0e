import type { ArrayLevel } from '../../../src/core/assess/array-level.ts';
import { shareOfStripe } from '../../../src/core/assess/array-level.ts';
import { visitedBps } from '../../../src/core/assess/disk-time.ts';
import { expectedSpeed, type SpeedLayout } from '../../../src/core/assess/expected-speed.ts';

/** A value that the budget model must come to, and where it is from. */
export interface BudgetCheck {
  name: string;
  value: number;
  least: number;
  most: number;
  source: string;
}

const MB = 1_000_000;
const TRADE = 'common practice, no source';
const CHEN = 'Chen et al. 1994, Table 3';
const OSTEP = 'Operating Systems: Three Easy Pieces, chapters 37 and 38';

const flash = (members: number): SpeedLayout => {
  return { level: members === 1 ? 'single' : '0', members, drive: 'ssd', link: null };
};
/** Four NVMe drives behind a link that gives at most about 2,850 MB/s. */
const behind = (level: ArrayLevel): SpeedLayout => {
  return { level, members: 4, drive: 'nvme', link: { bps: 2850 * MB, lanes: true } };
};
const read = (layout: SpeedLayout) => expectedSpeed(layout).readBps / MB;
const write = (layout: SpeedLayout) => expectedSpeed(layout).writeBps / MB;

function tradeChecks(): BudgetCheck[] {
  const [four, five, ten] = [behind('4'), behind('5'), behind('10')];
  const striped = ([2, 3, 4] as const).map((members, index): BudgetCheck => {
    const times = (2 * read(flash(members))) / read(flash(1));
    const [least, most] = [
      [3, 3.3],
      [4, 4.4],
      [5, 6],
    ][index] ?? [0, 0];
    return {
      name: `${members} flash drives striped, one being 2`,
      value: times,
      least: least ?? 0,
      most: most ?? 0,
      source: TRADE,
    };
  });
  const lower = (name: string, value: number, than: number): BudgetCheck => ({
    name,
    value,
    least: 0,
    most: than,
    source: TRADE,
  });
  return [
    ...striped,
    { name: 'level 0 behind the link, reading', value: read(behind('0')), least: 1700, most: 1800, source: TRADE },
    { name: 'level 0 behind the link, writing', value: write(behind('0')), least: 1700, most: 1800, source: TRADE },
    { name: 'level 4 behind the link, reading', value: read(four), least: 1100, most: 1500, source: TRADE },
    { name: 'level 4 behind the link, writing', value: write(four), least: 1100, most: 1500, source: TRADE },
    lower('level 4 writes worst', write(four), read(four)),
    lower('level 5 reads slower than 4', read(five), read(four)),
    lower('level 5 writes slower than 4', write(five), write(four)),
    lower('level 10 reads slowest', read(ten), read(five)),
  ];
}

function publishedChecks(): BudgetCheck[] {
  const exact = (name: string, value: number, printed: number, tolerance: number, source: string): BudgetCheck => {
    return { name, value, least: printed * (1 - tolerance), most: printed * (1 + tolerance), source };
  };
  const random = (seekSeconds: number, rpm: number, mbps: number, bytes: number) =>
    visitedBps({ seekSeconds, rpm, transferBps: mbps * MB }, bytes) / MB;
  return [
    exact('level 5, small writes, 16 members', shareOfStripe('5', 16, 'small-write'), 1 / 4, 0, CHEN),
    exact('level 5, large writes, 16 members', shareOfStripe('5', 16, 'large-write'), 15 / 16, 0, CHEN),
    exact('level 6, small writes, 16 members', shareOfStripe('6', 16, 'small-write'), 1 / 6, 0, CHEN),
    exact('level 6, large writes, 16 members', shareOfStripe('6', 16, 'large-write'), 14 / 16, 0, CHEN),
    exact('level 1, large writes', shareOfStripe('1', 2, 'large-write'), 1 / 2, 0, CHEN),
    exact('15,000 rpm, 4 KB at random', random(0.004, 15_000, 125, 4096), 0.66, 0.04, OSTEP),
    exact('7,200 rpm, 4 KB at random', random(0.009, 7200, 105, 4096), 0.31, 0.04, OSTEP),
    exact('worked example, 10 MB', random(0.007, 10_000, 50, 10 * MB), 47.62, 0.001, OSTEP),
    exact('worked example, 10 KB', random(0.007, 10_000, 50, 10_000), 0.981, 0.03, OSTEP),
  ];
}

export const budgetChecks = (): BudgetCheck[] => [...tradeChecks(), ...publishedChecks()];
