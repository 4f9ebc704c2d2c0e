/** What the five fields of a crontab entry choose. */
export interface CronFields {
  /** Ascending. */
  minutes: number[];
  hours: number[];
  days: Set<number>;
  months: Set<number>;
  /** 0 for Sunday to 6. */
  weekdays: Set<number>;
  /** Days and weekdays are both chosen: a date that is either counts, otherwise it must be both (crontab(5) of common cron programs). */
  isEitherDay: boolean;
}

interface Field {
  name: string;
  min: number;
  max: number;
  /** Names that stand for numbers, the first for `min`. */
  names: readonly string[];
}

/** The five fields of a crontab entry: POSIX.1-2024, `crontab`; 7 for Sunday and names are common practice. */
const FIELDS: readonly Field[] = [
  { name: 'minute', min: 0, max: 59, names: [] },
  { name: 'hour', min: 0, max: 23, names: [] },
  { name: 'day of the month', min: 1, max: 31, names: [] },
  { name: 'month', min: 1, max: 12, names: 'jan feb mar apr may jun jul aug sep oct nov dec'.split(' ') },
  { name: 'day of the week', min: 0, max: 7, names: 'sun mon tue wed thu fri sat'.split(' ') },
];

/** Most days each month can have, January first. */
const MONTH_DAYS = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/**
 * Reads cron's five fields. Each: `*`, numbers, ranges a-b with a <= b, lists, steps. What cannot be read comes back as the words
 * that say why, naming the field. Days that no month has (31 February) are refused.
 */
export function readCronFields(text: string): CronFields | string {
  const parts = text.trim().split(/\s+/);
  if (parts.length !== FIELDS.length) {
    const written = text.trim() === '' ? 0 : parts.length;
    return `five fields, not ${written}; "0 4 * * *" is every day at 04:00`;
  }
  const chosen: Set<number>[] = [];
  for (const [index, field] of FIELDS.entries()) {
    const values = readField(parts[index] ?? '', field);
    if (values === null) return `the ${field.name} goes from ${field.min} to ${field.max}`;
    chosen.push(values);
  }
  const [minutes, hours, days, months, weekdays] = chosen as [Choice, Choice, Choice, Choice, Choice];
  const isEitherDay = !(parts[2] ?? '').includes('*') && !(parts[4] ?? '').includes('*');
  if (!isEitherDay && !dateExists(days, months)) return 'no such day comes in those months';
  return {
    minutes: [...minutes].sort(ascending),
    hours: [...hours].sort(ascending),
    days,
    months,
    weekdays: new Set([...weekdays].map((day) => day % 7)),
    isEitherDay,
  };
}

type Choice = Set<number>;

function readField(text: string, field: Field): Choice | null {
  const values = new Set<number>();
  for (const item of text.split(',')) {
    const match = /^(\*|[a-z]+|\d+)(?:-([a-z]+|\d+))?(?:\/(\d+))?$/i.exec(item);
    if (match === null) return null;
    const [, low = '', high, step = '1'] = match;
    if (low === '*' && high !== undefined) return null;
    const first = low === '*' ? field.min : numberOf(low, field);
    // A step after a single number runs to the end of the field; without a step it is that number alone.
    const last = high !== undefined ? numberOf(high, field) : low === '*' || match[3] ? field.max : first;
    if (first === null || last === null || first > last || Number(step) < 1) return null;
    for (let value = first; value <= last; value += Number(step)) values.add(value);
  }
  return values;
}

function numberOf(text: string, field: Field): number | null {
  const named = field.names.indexOf(text.toLowerCase());
  const value = named >= 0 ? field.min + named : /^\d+$/.test(text) ? Number(text) : Number.NaN;
  return value >= field.min && value <= field.max ? value : null;
}

function dateExists(days: Choice, months: Choice): boolean {
  const firstDay = Math.min(...days);
  return [...months].some((month) => firstDay <= (MONTH_DAYS[month - 1] ?? 0));
}

function ascending(one: number, other: number): number {
  return one - other;
}
