import uPlot from 'uplot';

/** In the size of the page's letters: on a large screen all is larger. */
const HEIGHT_REM = 14;
const LETTERS_REM = 0.75;
const SCALE_REM = 5;
const DATES_REM = 2.8;
const WIDE_REM = 3.5;

export type Figures = (number | null)[];

export type Line = {
  label: string;
  colour: string;
  dash?: number[];
  width?: number;
  fill?: string;
  bars?: true;
  shown: (value: number) => string;
};

export interface Frame {
  /** The workstation's zone; without it the axis is not of times. */
  zone?: string;
  /** The axis goes at least so high; and no higher, where that is given. */
  least: number;
  most?: number;
  shown: (value: number) => string;
  marks: readonly { at: number; name: string }[];
  bands?: uPlot.Band[];
  dayNames?: readonly string[];
  /** Where the legend is when nobody points; else at the last place. */
  rest?: number;
  /** What the legend says of a line at a place, where it is not what is drawn. */
  own?: (line: number, place: number) => number | null;
}

/** A plot of some lines over one axis, into its place. */
export function makePlot(canvas: HTMLElement, data: readonly Figures[], lines: readonly Line[], frame: Frame): uPlot {
  const { zone, dayNames } = frame;
  const [at = []] = data;
  const rem = remPx();
  // Without a pointer the legend tells how it is now.
  const rest = (drawn: uPlot) => drawn.setLegend({ idx: frame.rest ?? at.length - 1 });
  const axis = {
    font: `${Math.round(LETTERS_REM * rem)}px system-ui, sans-serif`,
    stroke: colourOf('--soft'),
    grid: { stroke: colourOf('--rule'), width: 1 },
    ticks: { stroke: colourOf('--rule'), width: 1 },
  };
  const dayAt = (place: number) => (Number.isInteger(place) ? (dayNames?.[place]?.slice(5) ?? '') : '');
  const plot = new uPlot(
    {
      width: canvas.clientWidth,
      height: Math.round(HEIGHT_REM * rem),
      ...(zone === undefined ? {} : { tzDate: (seconds: number) => uPlot.tzDate(new Date(seconds * 1000), zone) }),
      fmtDate: (template: string) =>
        uPlot.fmtDate(
          template
            .replace('{M}/{D}/{YY}', '{YYYY}-{MM}-{DD}')
            .replace('{M}/{D}', '{D} {MMM}')
            .replace('{h}:{mm}{aa}', '{HH}:{mm}')
            .replace('{h}{aa}', '{HH}:00'),
        ),
      cursor: { drag: { x: false, y: false }, points: { size: 6 } },
      scales: {
        x: {
          time: zone !== undefined,
          ...(dayNames === undefined ? {} : { range: () => [-0.6, dayNames.length - 0.4] as [number, number] }),
        },
        y: { range: (_plot, _low, high) => [0, frame.most ?? Math.max(frame.least, (high ?? 0) * 1.1)] },
      },
      axes: [
        {
          ...axis,
          ...(dayNames === undefined
            ? {}
            : {
                values: (_plot: uPlot, places: number[]) => places.map(dayAt),
                incrs: [1, 2, 5, 10, 20, 50, 100, 200],
              }),
          space: WIDE_REM * rem,
          size: DATES_REM * rem,
        },
        { ...axis, size: SCALE_REM * rem, values: (_plot, values) => values.map((value) => frame.shown(value)) },
      ],
      series: [
        dayNames === undefined
          ? { label: 'time' }
          : { label: 'day', value: (_plot, place) => dayNames[place ?? -1] ?? '--' },
        ...lines.map((line, number): uPlot.Series => seriesOf(line, number, frame)),
      ],
      ...(frame.bands === undefined ? {} : { bands: frame.bands }),
      hooks: { draw: [(drawn) => drawMarks(drawn, frame.marks)], ready: [rest] },
    },
    data as unknown as uPlot.AlignedData,
    canvas,
  );
  walkByKeys(canvas, plot);
  plot.over.addEventListener('mouseleave', () => rest(plot));
  return plot;
}

function seriesOf(
  { label, colour, dash, width, fill, bars, shown }: Line,
  number: number,
  { own }: Frame,
): uPlot.Series {
  return {
    label,
    stroke: colourOf(colour),
    width: width ?? 1,
    points: { show: false },
    value: (_plot, value, _series, place) => {
      const said = own === undefined ? value : place === null ? null : own(number, place);
      return said === null || said === undefined ? '--' : shown(said);
    },
    ...(dash === undefined ? {} : { dash }),
    ...(fill === undefined ? {} : { fill: colourOf(fill) }),
    ...(bars === undefined || uPlot.paths.bars === undefined ? {} : { paths: uPlot.paths.bars({ size: [0.7, 60] }) }),
  };
}

/** A line at each, with its name where there is room for it. */
function drawMarks({ ctx, bbox, valToPos }: uPlot, marks: readonly { at: number; name: string }[]): void {
  ctx.save();
  ctx.strokeStyle = colourOf('--soft');
  ctx.fillStyle = colourOf('--ink');
  const letters = LETTERS_REM * remPx() * devicePixelRatio;
  ctx.font = `${Math.round(letters)}px system-ui, sans-serif`;
  ctx.textAlign = 'left';
  ctx.textBaseline = 'top';
  ctx.setLineDash([3, 3]);
  let free = bbox.left;
  for (const { at, name } of marks) {
    const x = Math.round(valToPos(at, 'x', true));
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    const wide = ctx.measureText(name).width;
    const left = Math.min(x + 4, bbox.left + bbox.width - wide);
    if (name === '' || left < free) continue;
    ctx.fillText(name, left, bbox.top + 2);
    free = left + wide + 12;
  }
  ctx.restore();
}

/** With the arrow keys one goes from figure to figure; the legend tells them. */
function walkByKeys(canvas: HTMLElement, plot: uPlot): void {
  const { root, data } = plot;
  root.tabIndex = 0;
  root.setAttribute('role', 'group');
  root.setAttribute('aria-label', 'Plot; the arrow keys go through its figures');
  root.querySelector('.u-legend')?.setAttribute('aria-live', 'polite');
  root.addEventListener('keydown', (event) => {
    const step = {
      ArrowLeft: -1,
      ArrowRight: 1,
      PageUp: -20,
      PageDown: 20,
      Home: Number.NEGATIVE_INFINITY,
      End: Number.POSITIVE_INFINITY,
    }[event.key];
    if (step === undefined || data[0].length === 0) return;
    event.preventDefault();
    const last = data[0].length - 1;
    const place = Math.min(last, Math.max(0, (plot.cursor.idx ?? last) + step));
    plot.setCursor({ left: plot.valToPos(data[0][place] ?? 0, 'x'), top: canvas.clientHeight / 4 });
  });
}

/** How large letters are, CSS pixels. */
function remPx(): number {
  return Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
}

/** As the style sheet has it for the scheme of the moment. */
export function colourOf(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}
