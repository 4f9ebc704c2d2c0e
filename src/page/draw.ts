import type uPlot from 'uplot';
import type { FormatDays } from '../core/assess/format-days.ts';
import type { ExposurePlot, RoomPlot, SpeedPlot } from '../core/present/html/plots.ts';
import { formatBytes, formatFrameRate, formatRate } from '../core/units.ts';
import { colourOf, type Figures, type Line, makePlot } from './plot-frame.ts';

/** A rate below this is nobody's work: the axis is not drawn for less. */
const LEAST_BPS = 1e6;
const LEAST_BYTES = 1e9;

/** Lines are told apart by dashes as well as by colour, and by their names. */
const DASHED = [6, 4];
const DOTTED = [2, 3];

/** What had to be read and what the drives gave, against what may be asked for. */
export function drawSpeed(canvas: HTMLElement, plot: SpeedPlot, zone: string): uPlot | null {
  if (plot.at.length < 2) return null;
  const rate = (value: number) => formatRate(value);
  const lines: Line[] = [
    { label: 'may be asked for (the reserve is off)', colour: '--ink', width: 2, shown: rate },
    { label: 'had to be read', colour: '--fill', dash: DASHED, width: 2, shown: rate },
    { label: 'given, at most', colour: '--soft', dash: DOTTED, shown: rate },
    { label: 'given, in the mean', colour: '--second', fill: '--shade', shown: rate },
  ];
  const data = [plot.at, plot.budgetBps, plot.needBps, plot.peakBps, plot.givenBps];
  return makePlot(canvas, data, lines, {
    zone,
    least: LEAST_BPS,
    shown: rate,
    marks: plot.groups.map(({ at, name }) => ({ at, name })),
  });
}

/** What is in use and how it may go on, against the line of the reserve. */
export function drawRoom(canvas: HTMLElement, plot: RoomPlot, zone: string): uPlot | null {
  if (plot.at.length < 2) return null;
  const bytes = (value: number) => formatBytes(value);
  const level = (value: number | null): Figures => plot.at.map(() => value);
  const lines: Line[] = [
    { label: 'reserve begins', colour: '--ink', width: 2, shown: bytes },
    { label: 'in use', colour: '--fill', width: 2, fill: '--shade', shown: bytes },
    { label: 'likely', colour: '--fill', dash: DASHED, width: 2, shown: bytes },
    { label: 'at least', colour: '--soft', dash: DOTTED, shown: bytes },
    { label: 'at most', colour: '--soft', dash: DOTTED, shown: bytes },
  ];
  const data = [plot.at, level(plot.reserveAt), plot.usedBytes, plot.likelyBytes, plot.lowBytes, plot.highBytes];
  const most = plot.endBytes ?? LEAST_BYTES;
  return makePlot(canvas, data, lines, {
    zone,
    least: most,
    most,
    shown: bytes,
    marks: [{ at: plot.now, name: 'now' }],
    rest: plot.at.indexOf(plot.now),
    bands: [{ series: [5, 4], fill: colourOf('--shade') }],
  });
}

/** Footage without enough verified copies, and when copies were read back. */
export function drawExposure(canvas: HTMLElement, plot: ExposurePlot, zone: string): uPlot | null {
  if (plot.at.length < 2) return null;
  const bytes = (value: number) => formatBytes(value);
  const lines: Line[] = [
    { label: 'without enough verified copies', colour: '--fill', width: 2, fill: '--shade', shown: bytes },
  ];
  return makePlot(canvas, [plot.at, plot.bytes], lines, {
    zone,
    least: LEAST_BYTES,
    shown: bytes,
    marks: plot.readBack.map((at) => ({ at, name: '' })),
  });
}

/** What was recorded on each day, by format, one on top of the other. */
export function drawFormats(canvas: HTMLElement, { days, formats }: FormatDays): uPlot | null {
  if (days.length === 0) return null;
  const bytes = (value: number) => formatBytes(value);
  const colours = ['--fill', '--second', '--third', '--soft', '--fourth', '--rule'];
  // The lowest is drawn last, over the others.
  const stacked = formats.map((_, place) =>
    days.map((_day, day) => formats.slice(0, place + 1).reduce((sum, one) => sum + (one.bytes[day] ?? 0), 0)),
  );
  const order = formats.map((_, place) => formats.length - 1 - place);
  const lines = order.map((place): Line => {
    const own = formats[place];
    return {
      label: nameOf(own?.format ?? null),
      colour: colours[place] ?? '--rule',
      fill: colours[place] ?? '--rule',
      bars: true,
      shown: bytes,
    };
  });
  const at = days.map((_, day) => day);
  const values = order.map((place) => stacked[place] ?? []);
  return makePlot(canvas, [at, ...values], lines, {
    least: 1,
    shown: bytes,
    marks: [],
    dayNames: days,
    own: (line, day) => formats[order[line] ?? 0]?.bytes[day] ?? null,
  });
}

function nameOf(format: FormatDays['formats'][number]['format']): string {
  if (format === null) return 'others';
  const { codec, width, height, frameRate } = format;
  const raster = width === null || height === null ? '' : ` ${width}x${height}`;
  return `${codec ?? 'unknown codec'}${raster}${frameRate === null ? '' : ` ${formatFrameRate(frameRate)} fps`}`;
}
