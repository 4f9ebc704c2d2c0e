import { expect, test } from 'vitest';
import { projectGrowth } from '../../../src/core/assess/shoot-days.ts';

const dayOf = (hour: number) => `day ${Math.floor(hour / 24)}`;

test('a project grew on the days on which its footage came', () => {
  const hours = [
    { hour: 50, bytes: 300 },
    { hour: 10, bytes: 100 },
    { hour: 47, bytes: 150 },
    { hour: 26, bytes: 50 },
    // A picture that was added later.
    { hour: 100, bytes: 1 },
  ];
  expect(projectGrowth(hours, dayOf)).toEqual({
    days: [
      { day: 'day 0', bytes: 100, totalBytes: 100 },
      { day: 'day 1', bytes: 200, totalBytes: 300 },
      { day: 'day 2', bytes: 300, totalBytes: 600 },
    ],
    middleBytes: 200,
  });
});

test('of a project without footage there is nothing to tell', () => {
  expect(projectGrowth([], dayOf)).toBeNull();
  expect(projectGrowth([{ hour: 1, bytes: 0 }], dayOf)).toBeNull();
});
