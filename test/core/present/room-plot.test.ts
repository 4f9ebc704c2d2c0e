import { describe, expect, test } from 'vitest';
import type { CapacityForecast } from '../../../src/core/assess/capacity-forecast.ts';
import { roomPlot } from '../../../src/core/present/room-plot.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { NOON, sampleAssessment, sampleVolume } from '../samples.ts';

const CROSSING = { at10: 2, at50: 4, at90: 11, within24h: 0, within72h: 0.3, within7d: 0.8 };
const FORECAST: CapacityForecast = {
  ...{ at: NOON, basis: 'shoot-days-seen', shootDays: 12, shootDayBytes: 2e11, planned: false },
  ...{ reserve: CROSSING, full: CROSSING, withoutPlan: null, notHappening: [] },
  history: [
    { daysAgo: 10, usedBytes: 2e12 },
    { daysAgo: 5, usedBytes: 2.5e12 },
  ],
  band: [
    { days: 5, low: 0, likely: 4e11, high: 6e11 },
    { days: 10, low: 2e11, likely: 8e11, high: 2e12 },
  ],
};

/** 3 of 4 TB are in use, 400 GB of them kept free. */
function plotOf(forecast: CapacityForecast | null): string {
  const assessed = sampleAssessment({ at: NOON, volumes: [sampleVolume({ forecast })] });
  const shown = snapshot(assessed, [], { version: 'x', page: null, zone: 'UTC' });
  const [volume] = shown.volumes;
  if (volume === undefined) throw new Error('a volume');
  return roomPlot(volume, shown.at);
}
const pointsOf = (plot: string, name: string) =>
  new RegExp(`class="${name}" points="([^"]*)"`)
    .exec(plot)?.[1]
    ?.split(' ')
    .map((pair) => pair.split(',').map(Number));

describe('room over time', () => {
  const plot = plotOf(FORECAST);

  // Worked by hand: 20 days on a width of 100, 4 TB on a height of 24.
  test('has what was in use, up to now in the middle', () => {
    expect(pointsOf(plot, 'used')).toEqual([
      [0, 24],
      [0, 12],
      [25, 9],
      [50, 6],
      [50, 24],
    ]);
  });

  test('goes on as it may, within the band, and not beyond what can be written', () => {
    expect(pointsOf(plot, 'way')).toEqual([
      [50, 6],
      [75, 3.6],
      [100, 1.2],
    ]);
    expect(pointsOf(plot, 'band')).toEqual([
      [50, 6],
      [75, 2.4],
      [100, 0],
      [100, 4.8],
      [75, 6],
    ]);
  });

  test('has the line of the reserve, its dates, and a name for those who do not see it', () => {
    expect(plot).toContain('<rect class="line" y="2.40"');
    expect(plot).toContain('<span>2027-02-22</span>');
    expect(plot).toContain('<span>2027-03-14</span>');
    expect(plot).toContain('against the line of the reserve at 3.60 TB');
  });

  test('is not there where little is known', () => {
    expect(plotOf(null)).toBe('');
    expect(plotOf({ ...FORECAST, history: [] })).toBe('');
    expect(plotOf({ ...FORECAST, band: null })).toBe('');
  });
});
