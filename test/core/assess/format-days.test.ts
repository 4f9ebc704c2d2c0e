import { expect, test } from 'vitest';
import { type FormatHour, formatDays } from '../../../src/core/assess/format-days.ts';

const dayOf = (hour: number) => (hour < 500_000 ? '2027-01-14' : '2027-01-15');

function some(bytes: number, over: Partial<FormatHour> = {}): FormatHour {
  return {
    ...{ day: '2027-01-15', hour: 0, codec: 'ProRes 422 HQ', width: 3840, height: 2160 },
    ...{ frameRate: { num: 25, den: 1 }, bytes, ...over },
  };
}

test('each day with what came on it by format, the largest format first', () => {
  const { days, formats } = formatDays(
    [
      some(10),
      some(5, { day: null, hour: 499_999 }),
      some(7, { day: null, hour: 500_001 }),
      some(40, { codec: 'DNxHR SQ', day: '2027-01-20' }),
    ],
    dayOf,
  );
  expect(days).toEqual(['2027-01-14', '2027-01-15', '2027-01-20']);
  expect(formats.map(({ format, bytes }) => [format?.codec, bytes])).toEqual([
    ['DNxHR SQ', [0, 0, 40]],
    ['ProRes 422 HQ', [5, 17, 0]],
  ]);
});

test('the smallest of many are told together, and no byte is lost', () => {
  const many = Array.from({ length: 9 }, (_, at) => some(100 - at, { codec: `codec ${at}` }));
  const { formats } = formatDays(many, dayOf);
  expect(formats.map(({ format }) => format?.codec ?? null)).toEqual([
    ...['codec 0', 'codec 1', 'codec 2', 'codec 3', 'codec 4'],
    null,
  ]);
  expect(formats.at(-1)?.bytes).toEqual([95 + 94 + 93 + 92]);
});

test('of a project without clips there is nothing', () => {
  expect(formatDays([], dayOf)).toEqual({ days: [], formats: [] });
});
