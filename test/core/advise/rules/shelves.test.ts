import { describe, expect, test } from 'vitest';
import { shelfFilling } from '../../../../src/core/advise/rules/shelf-filling.ts';
import { singleShelf } from '../../../../src/core/advise/rules/single-shelf.ts';
import {
  type BackupOutlook,
  type BackupView,
  NO_BACKUPS,
  type ShelfState,
} from '../../../../src/core/backup/backup-view.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const DAY = 86_400_000;
const TB = 1e12;
const KNOWN = { id: 'id-a', name: 'shelf-a', drive: 'd1', seenAt: NOON, totalBytes: 8 * TB, freeBytes: 0.5 * TB };
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  ...{ lookedAt: NOON, known: KNOWN, full: { at10: null, at50: null, at90: null } },
};
const SUM = {
  ...{ shelf: 'id-a', volume: 'stripe', files: 12, bytes: 7e12, earlierBytes: 3e10, verifiedFiles: 12 },
  ...{ verifiedBytes: 7e12, differing: 0, unread: 0, oldestReadAt: NOON, newestReadAt: NOON },
};
const outlook = (bytes: number | null): BackupOutlook => ({
  ...{
    next: null,
    wait: null,
    exposedTbHours: null,
    due: [],
    lacks: [{ shelf: 'shelf-a', bytes }],
    nights: [],
    loss: null,
  },
});
const lacking = (bytes: number | null) => ({ outlooks: new Map([['stripe', outlook(bytes)]]) });
/** A hundred GB on each of the last ten days. */
const HOURS = Array.from({ length: 10 }, (_, day) => ({
  hour: Math.floor(NOON / 3_600_000) - 24 * day - 1,
  bytes: 1e11,
}));
const assessed = (backups: Partial<BackupView>, copies = 1) =>
  sampleAssessment({
    volumes: [sampleVolume({ wanted: { copies, readWithinDays: 60 } })],
    projects: [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [], hours: HOURS }],
    backups: { ...NO_BACKUPS, shelves: [SHELF], sums: [SUM], ...backups },
  });

describe('a shelf that fills', () => {
  const evaluate = (shelf: Partial<ShelfState>, over: Partial<BackupView> = {}) =>
    shelfFilling.evaluate(assessed({ shelves: [{ ...SHELF, ...shelf }], ...over }), THRESHOLDS);
  const fullIn = (days: number) => ({ full: { at10: NOON, at50: NOON + days * DAY, at90: null } });

  test('is told a week before, with the day, and what another drive has to hold', () => {
    const [finding] = evaluate(fullIn(5), lacking(2e11)).findings;
    expect(finding).toMatchObject({ kind: 'shelf-filling', subject: 'shelf-a', severity: 'warning' });
    expect(finding?.message).toBe(
      'shelf-a will probably be full about 2027-03-09, as footage comes and as shoots are planned: 500 GB of 8.00 TB are left, of which 200 GB are for what it still lacks. What comes after that gets no copy there.',
    );
    expect(finding?.remedies).toEqual([
      {
        action: 'Put a larger drive in the place of shelf-a, and keep the old one, whose copies stay good',
        effect: '3.00 TB more room lasts about 30 days at 100 GB a day',
      },
      {
        action: 'Look through "Earlier versions" on shelf-a, of which headroomd deletes none',
        effect: 'up to 30.0 GB',
      },
    ]);
  });

  test('what is left to copy does not fit: that is told whatever the forecast says', () => {
    // A hundredth of 8 TB stays free.
    const [finding] = evaluate({ full: null }, lacking(6e11)).findings;
    expect(finding?.message).toBe(
      'shelf-a cannot hold what is left to copy to it: that is 600 GB, and there is room for 420 GB. 180 GB will stay without this copy, whatever comes next as well.',
    );
    expect(finding?.remedies.map(({ effect }) => effect)).toEqual([
      '3.18 TB more room lasts about 30 days at 100 GB a day',
      'up to 30.0 GB; 150 GB are still missing',
    ]);
    expect(evaluate({}, lacking(4.2e11)).findings).toEqual([]);
  });

  test('between a week and ten days what stands stays; later it is over; of one that is away nothing is concluded', () => {
    expect(evaluate(fullIn(7)).findings).toHaveLength(1);
    const between = evaluate(fullIn(9));
    expect([between.findings.length, between.standing?.length, between.holds('shelf-a')]).toEqual([
      ...[0, 1, 'between-thresholds'],
    ]);
    expect(evaluate(fullIn(11)).holds('shelf-a')).toBeNull();
    expect(evaluate({}).holds('shelf-a')).toBeNull();
    expect(evaluate({ full: null }).holds('shelf-a')).toBe('figure-unknown');
    const away = evaluate({ ...fullIn(1), state: 'shelf-absent' });
    expect([away.findings, away.holds('shelf-a')]).toEqual([[], 'figure-unknown']);
  });
});

describe('a volume whose shelves lie on one drive', () => {
  const evaluate = (backups: Partial<BackupView>, copies = 1) =>
    singleShelf.evaluate(assessed(backups, copies), THRESHOLDS).findings;

  test('is a standing notice that says what a second one gives', () => {
    const [finding] = evaluate({});
    expect(finding).toMatchObject({ kind: 'single-shelf', subject: 'stripe', severity: 'notice' });
    expect(finding?.message).toBe(
      'stripe: there is a single shelf, shelf-a, so one verified copy of each file is wanted while it is so. Common practice is 3-2-1: three copies, on two kinds of media, one of them elsewhere. A fire, a theft or a surge that takes the volume and that drive takes all.',
    );
    expect(finding?.remedies[0]?.effect).toBe(
      'the 7.00 TB that have one copy get a second one, which outlives the loss of the first',
    );
  });

  test('two shelves on one drive are one; what the configuration wants besides is told', () => {
    const twin = { ...SHELF, name: 'shelf-b', known: { ...KNOWN, id: 'id-b', name: 'shelf-b' } };
    expect(evaluate({ shelves: [SHELF, twin] }, 2)[0]?.message).toMatch(
      /^stripe: shelf-a and shelf-b lie on one drive, so 2 verified copies of each file are wanted, and there is a place for one\./,
    );
  });

  test('nothing with shelves on two drives, or without any', () => {
    const other = { ...SHELF, name: 'shelf-b', known: { ...KNOWN, id: 'id-b', drive: 'd2' } };
    expect(evaluate({ shelves: [SHELF, other] })).toEqual([]);
    expect(evaluate({ shelves: [{ ...SHELF, volumes: ['other'] }] })).toEqual([]);
  });
});
