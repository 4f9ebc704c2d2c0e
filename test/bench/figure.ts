/** One measured figure beside what it is held against. */
export interface Figure {
  name: string;
  value: number;
  unit: string;
  /** The other side, measured in the same run; `null` where the goal is absolute. */
  peer: { name: string; value: number } | null;
  /** `null`: told for what it is, held against nothing. */
  goal: string | null;
  holds: boolean | null;
}

/** The middle value; of an even count the mean of the two in the middle. */
export function median(values: readonly number[]): number {
  return quantile(values, 0.5);
}

/** Linear interpolation between order statistics at (n - 1) q (the default of common statistics packages, "type 7"). */
export function quantile(values: readonly number[], q: number): number {
  if (values.length === 0) throw new Error('no values were measured');
  const sorted = values.toSorted((a, b) => a - b);
  const at = (sorted.length - 1) * q;
  const low = sorted[Math.floor(at)] ?? Number.NaN;
  const high = sorted[Math.ceil(at)] ?? Number.NaN;
  return low + (high - low) * (at - Math.floor(at));
}

export function ratioOf(figure: Figure): number | null {
  return figure.peer === null || figure.peer.value === 0 ? null : figure.value / figure.peer.value;
}

/** In place of the figures that could not be had. */
export function notMeasured(what: string, why: string): Figure {
  const name = `${what}: could not be measured: ${why}`;
  return { name, value: Number.NaN, unit: '', peer: null, goal: 'a figure', holds: false };
}

export function sentence(figure: Figure): string {
  if (Number.isNaN(figure.value)) return figure.name;
  const ratio = ratioOf(figure);
  const beside =
    figure.peer === null
      ? ''
      : `; ${figure.peer.name}: ${short(figure.peer.value)} ${figure.unit}, ratio ${ratio === null ? '-' : short(ratio)}`;
  const verdict = figure.goal === null ? '' : ` Goal ${figure.goal}: ${figure.holds === true ? 'holds' : 'MISSED'}.`;
  return `${figure.name}: ${short(figure.value)} ${figure.unit}${beside}.${verdict}`;
}

/** Three digits, and whole numbers as they are. */
function short(value: number): string {
  return Math.abs(value) >= 100 || Number.isInteger(value) ? value.toFixed(0) : value.toPrecision(3);
}
