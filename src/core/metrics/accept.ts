import type { Format } from './exposition.ts';

interface Range {
  type: string;
  version: string | null;
  quality: number;
}

const VERSIONS: Readonly<Record<Format, string>> = { openmetrics: '1.0.0', text: '0.0.4' };

/**
 * The format that an `Accept` header prefers (RFC 9110, 12.5.1). OpenMetrics only for who names it: who takes anything is
 * told in the older format, which every collector reads and a browser shows.
 */
export function formatFor(accept: string | undefined): Format {
  const ranges = (accept ?? '').split(',').flatMap(rangeOf);
  const named = qualityOf(ranges, 'openmetrics', 'application/openmetrics-text');
  const older = qualityOf(ranges, 'text', 'text/plain');
  return named > 0 && named >= older ? 'openmetrics' : 'text';
}

/** 0: not named. */
function qualityOf(ranges: readonly Range[], format: Format, type: string): number {
  const meant = ranges.filter(
    (range) => range.type === type && (range.version ?? VERSIONS[format]) === VERSIONS[format],
  );
  return Math.max(0, ...meant.map(({ quality }) => quality));
}

function rangeOf(text: string): Range[] {
  const [type = '', ...parameters] = text.split(';').map((part) => part.trim().toLowerCase());
  const told = (name: string) =>
    parameters
      .find((parameter) => parameter.startsWith(`${name}=`))
      ?.slice(name.length + 1)
      .replace(/^"(.*)"$/, '$1') ?? null;
  const quality = Number(told('q') ?? '1');
  return [{ type, version: told('version'), quality: quality >= 0 && quality <= 1 ? quality : 0 }];
}
