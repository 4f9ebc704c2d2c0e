import { HOUR_MS, thinned, type VolumeMoment } from '../../assess/moments.ts';
import { formatBytes, formatRate } from '../../units.ts';
import type { IsoTime } from '../iso-time.ts';
import type { VolumeSnapshot } from '../snapshot-volume.ts';

/* What the plots of the page draw. Times in seconds since 1970; `null`: not known then. */

export interface VolumePlots {
  name: string;
  speed: SpeedPlot;
  room: RoomPlot;
  exposure: ExposurePlot;
}

export interface SpeedPlot {
  at: number[];
  needBps: (number | null)[];
  budgetBps: (number | null)[];
  givenBps: (number | null)[];
  peakBps: (number | null)[];
  /** From when on what had to be read most was this. */
  groups: { at: number; name: string }[];
  says: string;
}

export interface RoomPlot {
  at: number[];
  usedBytes: (number | null)[];
  /** Now and later: in four cases of five it is between. */
  lowBytes: (number | null)[];
  likelyBytes: (number | null)[];
  highBytes: (number | null)[];
  now: number;
  /** Where the reserve begins, and where all that can be written ends. */
  reserveAt: number | null;
  endBytes: number | null;
  says: string;
}

export interface ExposurePlot {
  at: number[];
  bytes: (number | null)[];
  /** When copies were read back. */
  readBack: number[];
  says: string;
}

const DAY_MS = 24 * HOUR_MS;
const SPEED_POINTS = 480;
const LONG_POINTS = 720;
const EXPOSURE_DAYS = 30;
const ROOM_DAYS = 30;

/** The plots of one volume, no longer than a few thousand figures whatever is kept. `minutes`: of two days; `hours`: of the last months. */
export function volumePlots(
  volume: VolumeSnapshot,
  { minutes, hours, at }: { minutes: readonly VolumeMoment[]; hours: readonly VolumeMoment[]; at: number },
): VolumePlots {
  const first = minutes[0]?.at ?? at;
  // Hours are kept when they are over: the minutes go on from there.
  const all = [...hours.filter((one) => one.at + HOUR_MS <= first), ...minutes];
  return {
    name: volume.name,
    speed: speedPlot(minutes, at),
    room: roomPlot(volume, all, at),
    exposure: exposurePlot(all, at),
  };
}

function speedPlot(minutes: readonly VolumeMoment[], at: number): SpeedPlot {
  const { moments, stepMs } = thinned(minutes, { fromMs: at - DAY_MS, toMs: at, limit: SPEED_POINTS });
  const shown = withGaps(moments, stepMs);
  const groups: SpeedPlot['groups'] = [];
  for (const { at: begins, needFor } of moments)
    if (needFor !== null && groups.at(-1)?.name !== needFor) groups.push({ at: begins / 1000, name: needFor });
  return { ...column(shown, ['needBps', 'budgetBps', 'givenBps', 'peakBps']), groups, says: speedWords(moments) };
}

function speedWords(moments: readonly VolumeMoment[]): string {
  if (moments.length < 2) return 'It begins to be drawn as soon as the daemon has watched for two minutes.';
  const need = highest(moments, 'needBps');
  const peak = highest(moments, 'peakBps');
  const known = moments.flatMap(({ needBps, budgetBps }) =>
    needBps === null || budgetBps === null ? [] : [needBps > budgetBps],
  );
  return [
    need === null ? 'Nothing was known to be needed.' : `At most ${formatRate(need)} had to be read.`,
    peak === null ? 'Nothing is told of its drives.' : `Its drives gave ${formatRate(peak)} at most.`,
    ...(known.length === 0
      ? ['Whether that was more than may be asked for is not known.']
      : [known.includes(true) ? 'What may be asked for was passed.' : 'What may be asked for was never passed.']),
  ].join(' ');
}

function roomPlot({ capacity }: VolumeSnapshot, all: readonly VolumeMoment[], at: number): RoomPlot {
  const { usedBytes, availableBytes, reserveBytes, history, overrun } = capacity;
  const band = overrun?.band ?? [];
  const { moments } = thinned(all, { fromMs: at - ROOM_DAYS * DAY_MS, toMs: at, limit: LONG_POINTS });
  const kept = moments.flatMap((one) => (one.usedBytes === null ? [] : [{ at: one.at, bytes: one.usedBytes }]));
  const begins = kept[0]?.at ?? at;
  // Before anything was kept it is known by the day, from when files came and went.
  const known = history.map((one) => ({ at: msOf(one.at), bytes: one.usedBytes })).filter((one) => one.at < begins);
  const past = [...known, ...kept, ...(usedBytes === null ? [] : [{ at, bytes: usedBytes }])];
  const ahead =
    band.length === 0
      ? []
      : [
          { at, low: usedBytes, likely: usedBytes, high: usedBytes },
          ...band.map((one) => ({ at: msOf(one.at), low: one.lowBytes, likely: one.likelyBytes, high: one.highBytes })),
        ];
  const later = ahead.slice(1);
  const end = usedBytes === null || availableBytes === null ? null : usedBytes + availableBytes;
  const none = past.slice(0, -1).map(() => null);
  return {
    at: [...past, ...later].map((one) => one.at / 1000),
    usedBytes: [...past.map((one) => one.bytes), ...later.map(() => null)],
    lowBytes: [...none, ...ahead.map((one) => one.low)],
    likelyBytes: [...none, ...ahead.map((one) => one.likely)],
    highBytes: [...none, ...ahead.map((one) => one.high)],
    now: at / 1000,
    reserveAt: end === null || reserveBytes === null ? null : end - reserveBytes,
    endBytes: end,
    says:
      ahead.length === 0
        ? 'How it may go on is drawn from three days with footage on.'
        : 'The shade is where it lies in four cases of five.',
  };
}

function exposurePlot(all: readonly VolumeMoment[], at: number): ExposurePlot {
  const fromMs = at - EXPOSURE_DAYS * DAY_MS;
  const { moments, stepMs } = thinned(all, { fromMs, toMs: at, limit: LONG_POINTS });
  const shown = withGaps(moments, Math.max(stepMs, HOUR_MS));
  const read = [...new Set(moments.flatMap(({ verifiedAt }) => verifiedAt ?? []))].filter((one) => one >= fromMs);
  const most = highest(moments, 'exposedBytes');
  const { at: times, exposedBytes } = column(shown, ['exposedBytes']);
  return {
    at: times,
    bytes: exposedBytes,
    readBack: read.map((one) => one / 1000),
    says: most === null ? 'Not known so far.' : `At most ${formatBytes(most)} were without enough verified copies.`,
  };
}

/** A stretch in which nobody looked is a gap, not a line. */
function withGaps(moments: readonly VolumeMoment[], stepMs: number): (VolumeMoment | { at: number })[] {
  return moments.flatMap((one, place) => {
    const before = moments[place - 1];
    return before !== undefined && one.at - before.at > 2 * stepMs ? [{ at: before.at + stepMs }, one] : [one];
  });
}

type Figure = 'needBps' | 'budgetBps' | 'givenBps' | 'peakBps' | 'exposedBytes';

function column<Name extends Figure>(
  moments: readonly (VolumeMoment | { at: number })[],
  names: readonly Name[],
): { at: number[] } & Record<Name, (number | null)[]> {
  const figures = names.map((name) => [
    name,
    moments.map((one) => {
      const value = name in one ? (one as VolumeMoment)[name] : null;
      return value === null ? null : Math.round(value);
    }),
  ]);
  return { at: moments.map((one) => one.at / 1000), ...Object.fromEntries(figures) };
}

function highest(moments: readonly VolumeMoment[], name: Figure): number | null {
  const known = moments.flatMap((one) => one[name] ?? []);
  return known.length === 0 ? null : Math.max(...known);
}

function msOf(time: IsoTime): number {
  return Temporal.Instant.from(time).epochMilliseconds;
}
