/** One measured figure beside what it is held against. */
export interface Figure {
  name: string;
  value: number;
  unit: string;
  /** The other side, measured in the same run; `null` where the goal is absolute. */
  peer: { name: string; value: number } | null;
  goal: string;
  holds: boolean;
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

export function sentence(figure: Figure): string {
  const ratio = ratioOf(figure);
  const beside =
    figure.peer === null
      ? ''
      : `; ${figure.peer.name}: ${short(figure.peer.value)} ${figure.unit}, ratio ${ratio === null ? '-' : short(ratio)}`;
  return `${figure.name}: ${short(figure.value)} ${figure.unit}${beside}. Goal ${figure.goal}: ${figure.holds ? 'holds' : 'MISSED'}.`;
}

function short(value: number): string {
  return value >= 100 ? value.toFixed(0) : value.toPrecision(3);
}
