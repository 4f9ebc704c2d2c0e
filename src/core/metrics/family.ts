/** Names and values of labels. Values are text from anywhere: they are escaped when they are written. */
export type Labels = Readonly<Record<string, string>>;

export interface Sample {
  labels: Labels;
  value: number;
}

/** Base units, as they stand at the end of names. */
export type Unit = 'bytes' | 'seconds' | 'ratio' | 'bytes_per_second';

/** Metrics of one name: what they are, and their values now. */
export interface Family {
  /** Without `_total` and `_info`, which the formats add; with its unit. */
  name: string;
  type: 'gauge' | 'counter' | 'info' | 'summary';
  unit: Unit | null;
  help: string;
  samples: readonly Sample[];
}

/** A figure, or several that differ in further labels. What is not known (`null`) has no sample. */
export type Reading = Figure | readonly (readonly [Labels, Figure])[];
type Figure = number | null | undefined;

/** How a family is read off one item of a list. */
export interface Row<Item> extends Pick<Family, 'name' | 'unit' | 'help'> {
  type?: Family['type'];
  of: (item: Item) => Reading;
}

/** The families of a table of rows, over all items; `labels` tell the items apart. */
export function familiesOf<Item>(
  rows: readonly Row<Item>[],
  items: readonly Item[],
  labels: (item: Item) => Labels,
): Family[] {
  return rows.map(({ of, type = 'gauge', ...row }) => ({
    ...row,
    type,
    samples: items.flatMap((item) => samplesOf(of(item), labels(item))),
  }));
}

function samplesOf(reading: Reading, labels: Labels): Sample[] {
  if (typeof reading === 'object' && reading !== null) {
    return reading.flatMap(([more, figure]) => sampleOf(figure, { ...labels, ...more }));
  }
  return sampleOf(reading, labels);
}

function sampleOf(figure: Figure, labels: Labels): Sample[] {
  return typeof figure === 'number' && Number.isFinite(figure) ? [{ labels, value: figure }] : [];
}

/** The names of a closed set; the type sees to it that none is left out. */
export function statesOf<State extends string>(all: Readonly<Record<State, 1>>): readonly State[] {
  return Object.keys(all) as State[];
}

/** One sample for each state that there is: 1 where it is so, 0 else. `null`: not known. */
export function oneOf<State extends string>(states: readonly State[], state: State | null): Reading {
  return state === null ? null : states.map((one) => [{ state: one }, one === state ? 1 : 0] as const);
}

/** An ISO 8601 instant as seconds since 1970, for `_timestamp_seconds`. */
export function timestamp(iso: string | null | undefined): number | null {
  return iso === null || iso === undefined ? null : Temporal.Instant.from(iso).epochMilliseconds / 1000;
}
