import { describe, expect, test } from 'vitest';
import type { BackupOutlook } from '../../../src/core/backup/backup-view.ts';
import { nightFigures } from '../../../src/core/backup/window.ts';
import { outlookSentences } from '../../../src/core/present/outlook-words.ts';
import { safetySnapshot } from '../../../src/core/present/snapshot-safety.ts';
import { volumeSnapshot } from '../../../src/core/present/snapshot-volume.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { NOON, sampleVolume } from '../samples.ts';

const iso = (at: number) => isoWithOffset(at, 'UTC');
const HOUR = 3_600_000;
const GB = 1e9;
const NOTHING: BackupOutlook = {
  next: null,
  wait: 'not-due',
  exposedTbHours: null,
  due: [],
  lacks: [],
  nights: [],
  loss: null,
};
const safety = { exposedBytes: 5e10, exposedClips: 1, exposedSeconds: 10, exposedSince: NOON };

function told(outlook: Partial<BackupOutlook>, exposed: typeof safety | null = safety): string[] {
  const volume = sampleVolume({ safety: exposed });
  const mine = safetySnapshot(volume, { verifiedAt: null, outlook: { ...NOTHING, ...outlook } }, iso);
  return outlookSentences(volumeSnapshot(volume, iso, mine), iso(NOON));
}
// 120 MB/s, written and read back.
const night = (bytes: number, bytesPerDay: number) => ({
  ...nightFigures({ bytes, bytesPerDay, windowSeconds: 6 * 3600 }, 2 / 120e6),
  ...{ shelves: 1, slotAt: null, isRunning: false },
});

describe('a volume without a backup', () => {
  const of = (hasBackup: boolean | null, exposed: typeof safety) => {
    const volume = sampleVolume({ safety: exposed });
    const mine = safetySnapshot(volume, { verifiedAt: null, outlook: null, hasBackup }, iso);
    return outlookSentences(volumeSnapshot(volume, iso, mine), iso(NOON));
  };

  test('is told while anything there lacks a copy', () => {
    expect(of(false, safety)).toEqual([
      'No backup of stripe is configured: it gets no copy before a [[shelf]] and a [[backup]] are written into the configuration.',
    ]);
    expect([of(true, safety), of(null, safety), of(false, { ...safety, exposedBytes: 0 })]).toEqual([[], [], []]);
  });
});

describe('the next backup', () => {
  test.each<[string, Partial<BackupOutlook>, string[]]>([
    [
      'and why',
      { next: { at: NOON + 8 * HOUR, reason: 'nightly', heldBy: null } },
      ['The next backup of stripe begins 20:00 (its night).'],
    ],
    [
      'waits for playback',
      { next: { at: NOON, reason: 'age', heldBy: 'playback' } },
      ['A backup of stripe is due and waits, for playback goes first.'],
    ],
    [
      'waits for others',
      { next: { at: NOON, reason: 'age', heldBy: 'volume-saturated' } },
      ['A backup of stripe is due and waits, for the volume has been asked for all it gives.'],
    ],
    ['has no shelf', { wait: 'shelf-absent' }, ['No backup of stripe can begin: none of its shelves is here.']],
    ['is not known', {}, []],
  ])('%s', (_, outlook, sentences) => {
    expect(told(outlook)).toEqual(sentences);
  });
});

describe('what is left to copy', () => {
  test.each<[string, number, number, string]>([
    ['nothing', 0, 0, 'Nothing is left to copy; the 6 h 00 min of its window would take about 1.30 TB.'],
    [
      'fits',
      750,
      0,
      '750 GB are left to copy: about 3 h 28 min with reading back, if it goes as fast as before. That fits the 6 h 00 min of its window.',
    ],
    [
      'does not',
      1500,
      500,
      '1.50 TB are left to copy: about 6 h 57 min with reading back, if it goes as fast as before. That does not fit the 6 h 00 min of its window; all of it takes about 2 nights, with 500 GB more a day. "headroomd backup now" begins at once, and has no window.',
    ],
    ['never will', 1500, 1400, 'it will never catch up'],
  ])('%s', (_, gigabytes, perDay, words) => {
    expect(told({ nights: [night(gigabytes * GB, perDay * GB)] }).join('\n')).toContain(words);
  });
});

test('the chance of a loss says what it was reckoned with, and is not told while nothing is exposed', () => {
  const loss = {
    ...{ chance: 1 / 8213, hours: 18, byDrives: 1e-4, byOther: 2e-5 },
    wear: { failsInYear: 0.015, repairHours: 24, otherInYear: 0.01 },
  };
  expect(told({ loss })).toEqual([
    'That the volume is lost before the next backup has ended (18 h 00 min): about 1 in 8,000, by usual figures (1.5 % of drives a year, 1 % a year for deletion, theft and fire), not by those of your drives.',
  ]);
  expect(told({ loss }, { ...safety, exposedBytes: 0 })).toEqual([]);
});

test('exposure times hours, from where it says something', () => {
  expect(told({ exposedTbHours: 0.004 })).toEqual([]);
  expect(told({ exposedTbHours: 0.8213 })).toEqual([
    'What is exposed comes to 0.82 TB times hours; from 1 on a backup begins when nothing comes for ten minutes, from 4 on at once.',
  ]);
});
