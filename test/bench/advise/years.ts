import { type Figure, median } from '../figure.ts';
import { type Lived, live } from './house.ts';
import { DAY, HOUR, KIND_NAMES, type Kind, MINUTE } from './kinds.ts';
import { EMPTY_ROW, plus, type Row } from './record.ts';

/** Houses of a bit more than two years each: 20 years and more in all. */
const SEEDS = [3001, 3002, 3003, 3004, 3005, 3006, 3007, 3008, 3009];
const DAYS = 860;
/** How large their volumes are, in turns. */
const LARGER = [1, 1.6, 3.5];

interface Sides {
  ours: Row;
  naive: Row;
}

/** Simulated years through the rules, beside plain thresholds: one table by kind, and a figure for each of its columns. */
export function measureYears(): Figure[] {
  const houses = SEEDS.map((seed, index) => {
    console.error(`house ${index + 1} of ${SEEDS.length}`);
    return live(seed, DAYS, LARGER[index % LARGER.length] ?? 1);
  });
  const days = houses.reduce((sum, house) => sum + house.days, 0);
  const sides = new Map(KIND_NAMES.map((kind) => [kind, sidesOf(houses, kind)]));
  console.error(tableOf(sides, days));
  const weeks = days / 7;
  // A plain line through a noisy load says more than all else together: it is left out of the sum.
  const counted = [...sides].flatMap(([kind, both]) => (kind === 'volume-busy' ? [] : [both]));
  const messages = (side: keyof Sides) => counted.reduce((sum, one) => sum + one[side].messages, 0) / weeks;
  const others = houses.reduce((sum, house) => sum + house.others, 0) / weeks;
  return [
    ...[...sides].flatMap(([kind, both]) => figuresOf(kind, both, weeks)),
    {
      ...{
        name: `announcements per week and house, without volume-busy, over ${(days / 365).toFixed(1)} years`,
        value: messages('ours'),
      },
      ...{ unit: '', peer: { name: 'plain thresholds', value: messages('naive') } },
      ...{ goal: '<= 1/3 x', holds: messages('ours') <= messages('naive') / 3 },
    },
    { name: 'of other kinds besides', value: others, unit: 'a week', peer: null, goal: null, holds: null },
  ];
}

function sidesOf(houses: readonly Lived[], kind: Kind): Sides {
  const sum = (rows: (Row | undefined)[]) => rows.reduce<Row>((all, row) => plus(all, row ?? EMPTY_ROW), EMPTY_ROW);
  return {
    ours: sum(houses.map(({ ours }) => ours.get(kind))),
    naive: sum(houses.map(({ naive }) => naive.get(kind))),
  };
}

function figuresOf(kind: Kind, { ours, naive }: Sides, weeks: number): Figure[] {
  const beside = (value: number) => ({ name: 'plain threshold', value });
  const count = (name: string, of: (row: Row) => number, goal: string | null): Figure => ({
    ...{ name: `${kind}: ${name}`, value: of(ours), unit: 'times', peer: beside(of(naive)) },
    ...{ goal, holds: goal === null ? null : of(ours) <= of(naive) },
  });
  const lead = (row: Row) => (row.leads.length === 0 ? 0 : median(row.leads) / HOUR);
  return [
    count('raised', ({ raises }) => raises, null),
    count('raised for nothing', ({ forNothing }) => forNothing, '<= as often'),
    count(`missed of ${ours.troubles}`, ({ missed }) => missed, '<= as often'),
    { ...count('median lead', lead, null), unit: 'h' },
    { ...count('announcements', ({ messages }) => messages / weeks, null), unit: 'a week' },
  ];
}

function tableOf(sides: ReadonlyMap<Kind, Sides>, days: number): string {
  const head = ['', 'raised', 'for nothing', 'missed', 'median lead', 'a week'];
  const lines = [...sides].map(([kind, { ours, naive }]) => {
    const pair = (of: (row: Row) => string | number) => `${of(ours)} / ${of(naive)}`;
    return [
      kind,
      pair(({ raises }) => raises),
      pair(({ forNothing }) => forNothing),
      `${pair(({ missed }) => missed)} of ${ours.troubles}`,
      pair(({ leads }) => leadWords(leads)),
      pair(({ messages }) => ((messages * 7) / days).toFixed(2)),
    ];
  });
  const all = [head, ...lines];
  const widths = head.map((_, column) => Math.max(...all.map((line) => (line[column] ?? '').length)));
  const rows = all.map((line) =>
    line
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join('  ')
      .trimEnd(),
  );
  return [`${(days / 365).toFixed(1)} years, ours / plain thresholds`, ...rows].join('\n');
}

function leadWords(leads: readonly number[]): string {
  if (leads.length === 0) return '-';
  const ms = median(leads);
  if (Math.abs(ms) >= 2 * DAY) return `${(ms / DAY).toFixed(1)} d`;
  return Math.abs(ms) >= 2 * HOUR ? `${(ms / HOUR).toFixed(1)} h` : `${Math.round(ms / MINUTE)} min`;
}
