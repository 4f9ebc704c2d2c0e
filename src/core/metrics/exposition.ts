import type { Family, Labels, Sample } from './family.ts';

/**
 * The two text formats that metrics are told in: OpenMetrics 1.0 (openmetrics.io, "ABNF" and "Overall Structure"), and the
 * format 0.0.4 that was before it (prometheus.io, "Exposition formats").
 */
export type Format = 'openmetrics' | 'text';

export const MEDIA_TYPES: Readonly<Record<Format, string>> = {
  openmetrics: 'application/openmetrics-text; version=1.0.0; charset=utf-8',
  text: 'text/plain; version=0.0.4; charset=utf-8',
};

/** Families without any sample are left out: of what is not known nothing is told. */
export function exposition(families: readonly Family[], format: Format): string {
  const known = families.filter(({ samples }) => samples.length > 0);
  const text = known.map((family) => (format === 'openmetrics' ? openMetrics(family) : plainText(family))).join('');
  return format === 'openmetrics' ? `${text}# EOF\n` : text;
}

function openMetrics(family: Family): string {
  const { name, type, unit, help } = family;
  const head = [`# TYPE ${name} ${type}`, ...(unit === null ? [] : [`# UNIT ${name} ${unit}`])];
  return lines([...head, `# HELP ${name} ${escaped(help)}`, ...samplesOf(family)]);
}

/** Here a family is called as its samples are, `info` is no type of its own, and a quote in a help text stands for itself. */
function plainText(family: Family): string {
  const name = `${family.name}${SUFFIX[family.type]}`;
  const type = family.type === 'info' ? 'gauge' : family.type;
  const help = escaped(family.help).replaceAll('\\"', '"');
  return lines([`# HELP ${name} ${help}`, `# TYPE ${name} ${type}`, ...samplesOf(family)]);
}

const SUFFIX: Readonly<Record<Family['type'], string>> = { gauge: '', counter: '_total', info: '_info', summary: '' };

/** A second sample with the same labels would make the whole invalid: names that read alike once escaped are told once. */
function samplesOf({ name, type, samples }: Family): string[] {
  const told = new Map<string, Sample>();
  for (const sample of samples) {
    const series = `${name}${SUFFIX[type]}${labelText(sample.labels)}`;
    if (!told.has(series)) told.set(series, sample);
  }
  return [...told].map(([series, { value }]) => `${series} ${value}`);
}

function labelText(labels: Labels): string {
  const entries = Object.entries(labels);
  return entries.length === 0 ? '' : `{${entries.map(([name, value]) => `${name}="${escaped(value)}"`).join(',')}}`;
}

function escaped(text: string): string {
  return text.replaceAll('\\', '\\\\').replaceAll('"', '\\"').replaceAll('\n', '\\n');
}

function lines(all: readonly string[]): string {
  return all.map((line) => `${line}\n`).join('');
}
