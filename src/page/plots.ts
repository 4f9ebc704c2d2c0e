import type uPlot from 'uplot';
import type { FormatDays } from '../core/assess/format-days.ts';
import type { VolumePlots } from '../core/present/html/plots.ts';
import { getJson } from './ask.ts';
import { drawExposure, drawFormats, drawRoom, drawSpeed } from './draw.ts';
import { all } from './patch.ts';

/** A row is kept each minute. */
const AGAIN_MS = 60_000;

interface Told {
  zone: string;
  volumes: VolumePlots[];
}

interface Drawn {
  plot: uPlot;
  size: ResizeObserver;
}

/** Draws the plots into their places, and again each minute while somebody looks. */
export function startPlots(): { changed: () => void } {
  const drawn = new Map<HTMLElement, Drawn>();
  let told: Told | null = null;

  async function fetchAndDraw(): Promise<void> {
    if (document.hidden) return;
    told = await getJson<Told>('/api/plots').catch(() => told);
    for (const figure of all('figure[data-plot]')) drawIn(figure);
  }

  /** Of places that went with their blocks nothing is kept. */
  function changed(): void {
    for (const [figure, { plot, size }] of drawn) {
      if (figure.isConnected) continue;
      size.disconnect();
      plot.destroy();
      drawn.delete(figure);
    }
    for (const figure of all('figure[data-plot]')) if (!drawn.has(figure)) drawIn(figure);
    for (const figure of all('details[open] figure[data-plot="formats"]'))
      if (!drawn.has(figure)) void drawDays(figure);
  }

  function drawIn(figure: HTMLElement): void {
    const volume = told?.volumes.find(({ name }) => name === figure.dataset['volume']);
    if (told === null || volume === undefined) return;
    const { zone } = told;
    const { exposure, room, speed } = volume;
    const kind = figure.dataset['plot'];
    if (kind === 'speed') put(figure, speed.says, (canvas) => drawSpeed(canvas, speed, zone));
    if (kind === 'room') put(figure, room.says, (canvas) => drawRoom(canvas, room, zone));
    if (kind === 'exposure') put(figure, exposure.says, (canvas) => drawExposure(canvas, exposure, zone));
  }

  async function drawDays(figure: HTMLElement): Promise<void> {
    const { volume = '', project = '' } = figure.dataset;
    const query = new URLSearchParams({ volume, project });
    const days = await getJson<FormatDays>(`/api/formats?${query}`).catch(() => null);
    if (days === null || !figure.isConnected) return;
    const says =
      days.days.length === 0
        ? 'No clip of footage is known of.'
        : `${days.days.length === 1 ? 'One day' : `${days.days.length} days`}, from ${days.days[0]} to ${days.days.at(-1)}.`;
    put(figure, says, (canvas) => drawFormats(canvas, days));
  }

  function put(figure: HTMLElement, says: string, draw: (canvas: HTMLElement) => uPlot | null): void {
    const canvas = figure.querySelector<HTMLElement>('.canvas');
    if (canvas === null) return;
    const before = drawn.get(figure);
    before?.size.disconnect();
    before?.plot.destroy();
    drawn.delete(figure);
    canvas.replaceChildren();
    sayBeside(figure, says);
    const plot = draw(canvas);
    if (plot === null) return;
    const size = new ResizeObserver(() => plot.setSize({ width: canvas.clientWidth, height: plot.height }));
    size.observe(canvas);
    drawn.set(figure, { plot, size });
  }

  document.addEventListener(
    'toggle',
    (event) => {
      if (!(event.target instanceof HTMLDetailsElement) || !event.target.open) return;
      for (const figure of all('figure[data-plot="formats"]', event.target)) void drawDays(figure);
    },
    true,
  );
  document.addEventListener('visibilitychange', () => void fetchAndDraw());
  // Lines are drawn in the colours of the scheme.
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => void fetchAndDraw());
  setInterval(() => void fetchAndDraw(), AGAIN_MS);
  void fetchAndDraw();
  return { changed };
}

/** What the plot shows, in words, for who does not see it. */
function sayBeside(figure: HTMLElement, says: string): void {
  const element = figure.querySelector('.says');
  if (element !== null) element.textContent = says;
}
