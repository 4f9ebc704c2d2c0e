import { z } from 'zod';
import { about, listOf, name, settle, table, wholeNumber, written } from './leaf.ts';
import { DAY_PATTERN, parseDay, parseRaster, parseRate, RASTER_PATTERN, RATE_PATTERN } from './shoot.ts';

const DAYS_EXPECTED = 'a list of days, like ["2027-03-04"]';
const RATE_EXPECTED = 'frames per second like "25" or "24000/1001"';
const HOURS_EXPECTED = 'hours like 6, above 0 and up to 24';

/** What is still to come: days, cameras, format, hours. */
export const planTable = table('a [[plan]] table', {
  project: name('the name of a project', 'Tidewater Sessions').meta(about('The project that is shot for.')),
  days: listOf(written('a day like "2027-03-04"', DAY_PATTERN, ['2027-03-04'], parseDay), DAYS_EXPECTED)
    .min(1, { error: DAYS_EXPECTED })
    .meta(about('The shoot days.')),
  cameras: wholeNumber('a whole number of cameras, 1 to 1000', 1, 1000).meta(about('Cameras that record.')),
  format: name('a recording format', 'ProRes 422 HQ').meta(about('What they record.')),
  raster: written('a raster like "3840x2160"', RASTER_PATTERN, ['3840x2160'], parseRaster).meta(
    about('Width and height in pixels.'),
  ),
  rate: z
    .union([z.string().meta({ pattern: RATE_PATTERN, examples: ['25', '24000/1001'] }), z.number()], {
      error: RATE_EXPECTED,
    })
    .transform((value, context) => settle(RATE_EXPECTED, parseRate(value), context))
    .meta(about('Frames per second; 23.976, 29.97 and 59.94 are taken as the exact ratios they stand for.')),
  hours: z
    .number({ error: HOURS_EXPECTED })
    .gt(0, { error: HOURS_EXPECTED })
    .max(24, { error: HOURS_EXPECTED })
    .meta(about('Hours that each camera records on each day.')),
});
