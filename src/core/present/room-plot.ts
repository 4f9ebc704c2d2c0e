import { formatBytes } from '../units.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

/** Height of the plot beside its width of 100. */
const HEIGHT = 24;

interface Point {
  /** ms since 1970. */
  at: number;
  bytes: number;
}

/**
 * Bytes in use over time, up to now and as it may go on, against the line of the reserve; empty where nothing is known of either. The
 * band is where it lies in four cases of five.
 */
export function roomPlot({ capacity }: VolumeSnapshot, at: string): string {
  const { usedBytes, availableBytes, reserveBytes, history = [], overrun } = capacity;
  if (usedBytes === null || availableBytes === null || reserveBytes === null) return '';
  const band = overrun?.band ?? [];
  const past = history.map((one): Point => ({ at: msOf(one.at), bytes: one.usedBytes }));
  if (past.length < 2 || band.length === 0) return '';
  const now: Point = { at: msOf(at), bytes: usedBytes };
  const writable = usedBytes + availableBytes;
  const [begin, end] = [history[0]?.at ?? at, band.at(-1)?.at ?? at];
  const first = msOf(begin);
  const last = msOf(end);
  const x = (time: number) => (100 * (time - first)) / (last - first);
  const y = (bytes: number) => HEIGHT * (1 - Math.min(1, Math.max(0, bytes / writable)));
  const place = ({ at: time, bytes }: Point) => `${x(time).toFixed(2)},${y(bytes).toFixed(2)}`;
  const way = (key: 'lowBytes' | 'likelyBytes' | 'highBytes') =>
    band.map((one): Point => ({ at: msOf(one.at), bytes: one[key] }));
  const around = [now, ...way('highBytes'), ...way('lowBytes').reverse()].map(place).join(' ');
  const line = y(writable - reserveBytes).toFixed(2);
  return [
    `<svg class="plot" role="img" aria-label="${labelOf(writable - reserveBytes)}" viewBox="0 0 100 ${HEIGHT}" preserveAspectRatio="none">`,
    `<rect class="all" width="100" height="${HEIGHT}"/><polygon class="band" points="${around}"/>`,
    `<polyline class="way" points="${[now, ...way('likelyBytes')].map(place).join(' ')}"/>`,
    `<polygon class="used" points="${[{ at: first, bytes: 0 }, ...past, now, { at: now.at, bytes: 0 }].map(place).join(' ')}"/>`,
    `<rect class="line" y="${line}" width="100" height="0.3"/></svg>`,
    `<p class="dates"><span>${begin.slice(0, 10)}</span><span class="now" style="left:${x(now.at).toFixed(1)}%">now</span><span>${end.slice(0, 10)}</span></p>`,
  ].join('');
}

function labelOf(lineBytes: number): string {
  return `in use over time, and as it may go on, against the line of the reserve at ${formatBytes(lineBytes)}`;
}

function msOf(time: string): number {
  return Temporal.Instant.from(time).epochMilliseconds;
}
