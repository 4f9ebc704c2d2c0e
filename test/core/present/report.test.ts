import { expect, test } from 'vitest';
import { reportOf } from '../../../src/core/present/report.ts';
import { reportText } from '../../../src/core/present/report-text.ts';
import { badNight, factsOf, goodNight, NIGHT } from './report-story.ts';

test('a good night, from the first sentence to the last', () => {
  const report = reportOf(goodNight());
  expect(report.verdict).toMatchObject({ copies: 'all', troubles: [] });
  expect(report.verdict.title).toBe('Report: everything that arrived has its copies');
  expect(reportText(report, 80)).toBe(`Everything that arrived has its copies.

This tells of the time since the last report, from 2027-03-04 07:30 to
2027-03-05 07:30 by the clocks of Europe/London (24 h 00 min). headroomd 0.1.0.

Arrived
  Saltmarsh (stripe): 12 clips, 412 GB, 1 h 52 min, the first ready 2027-03-04
  11:02, the last 2027-03-04 18:40, 2 cards or lists: SM-A01, SM-A02; besides, 4
  proxies and renders (1.20 GB).
  By name and size all footage of SM-A01 and SM-A02 is here.

Backups
  04:00 to 04:41, stripe to shelf-a, its night: 14 files (414 GB) copied at
  180 MB/s with reading back, each read back from the medium; 120 copies of
  before read again.
  shelf-a: 14 new copies of stripe (414 GB) made, read back past every cache of
  this machine.
  shelf-a: 120 copies of stripe (900 GB) read again, as written, read back past
  every cache of this machine.

What would be lost now
  stripe: No footage here waits for a copy, as far as is known. Wanted are 2
  verified copies on different drives, read back within 60 days. A copy was last
  read back at 04:41.
  The next backup of stripe begins 2027-03-06 04:00 (its night).

Room
  stripe: 600 GB until the 400 GB kept free is touched; 3.00 TB of 4.00 TB in
  use.
  If nothing is deleted, its reserve is reached about Wed 10 Mar (in four cases
  of five from Mon 8 Mar to Sun 14 Mar), and full Sat 13 Mar. It rests on 6 days
  with footage.
  Chance of that within 24 hours 0 %, within 3 days 10 %, within 7 days 75 %.
  A middle day with footage brings it about 412 GB.
  shelf-a: 3.00 TB of 8.00 TB left; 134 copies, 1.31 TB, each read back at
  2027-02-01 04:00 or later; it lacks nothing.

Advisories
  Nothing to warn of.
  Over at 03:40: stripe has room for playback again: what else went on there
  takes less. It was raised at 02:10 (warning): stripe has been busy for 5
  minutes.

The usual caution
  Arrived means by name and size. None of this is leave to erase a card: keep it
  until you have looked at the copies yourself.
`);
});

test('nothing is ever said to be safe, and no card to be free', () => {
  for (const facts of [goodNight(), badNight(), factsOf(NIGHT)]) {
    const text = reportText(reportOf(facts), 80).replace(/\s+/g, ' ');
    expect(text).not.toMatch(/\bsafe\b|may be (erased|formatted|used)|can be (erased|formatted)/i);
    expect(text).toContain('None of this is leave to erase a card');
  }
});
