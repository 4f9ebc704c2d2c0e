import { expect, test } from 'vitest';
import { backupWindow } from '../../../../src/core/advise/rules/backup-window.ts';
import { type BackupOutlook, type NightAhead, NO_BACKUPS } from '../../../../src/core/backup/backup-view.ts';
import { nightFigures } from '../../../../src/core/backup/window.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HOUR = 3_600_000;
const GB = 1e9;
// 120 MB/s, written and read back: six hours take 1296 GB.
const night = (bytes: number, hoursAhead: number, bytesPerDay = 0): NightAhead => ({
  ...nightFigures({ bytes, bytesPerDay, windowSeconds: 6 * 3600 }, 2 / 120e6),
  ...{ shelves: 1, slotAt: NOON + hoursAhead * HOUR, isRunning: false },
});
function found(nights: (NightAhead | null)[]) {
  const outlook: BackupOutlook = {
    next: null,
    wait: null,
    exposedTbHours: null,
    due: [],
    lacks: [],
    nights,
    loss: null,
  };
  const backups = { ...NO_BACKUPS, outlooks: new Map([['stripe', outlook]]) };
  return backupWindow.evaluate(sampleAssessment({ at: NOON, backups }), THRESHOLDS);
}

test('in the evening, what does not fit the night is told, with what to do', () => {
  const [finding] = found([night(1500 * GB, 8, 500 * GB)]).findings;
  expect(finding).toMatchObject({ subject: 'stripe', severity: 'warning', figures: { nights: 2, seconds: 25_000 } });
  expect(finding?.message).toBe(
    "stripe: the coming night's backup has 1.50 TB to copy and to read back, about 6 h 57 min as fast as before. Its window is 6 h 00 min; about 204 GB stay without their copies until the next one, and all of it takes about 2 nights. Keep the cards.",
  );
  // Eight hours at 60 MB/s: 1728 GB, which is more than there is.
  expect(finding?.remedies).toEqual([
    {
      action: 'Run "headroomd backup now"; it gives way to playback',
      effect: '8 h 00 min are left before the night, for about 1.50 TB',
    },
    {
      action: 'Set window = "7h" for this backup in the configuration',
      effect: 'what is left to copy now then fits one night',
    },
  ]);
});

test('by day it stands as it stood; with room to spare it is taken back', () => {
  expect(found([night(1500 * GB, 9)])).toMatchObject({ findings: [], standing: [{ subject: 'stripe' }] });
  expect(found([night(1200 * GB, 2)])).toMatchObject({ findings: [], standing: [{ subject: 'stripe' }] });
  const over = found([night(1100 * GB, 2)]);
  expect(over).toMatchObject({ findings: [], standing: [] });
  expect(over.holds('stripe')).toBeNull();
});

test('of several backups the fullest counts; what cannot be told changes nothing', () => {
  expect(found([night(100 * GB, 2), night(1500 * GB, 2)]).findings).toHaveLength(1);
  expect(found([null]).holds('stripe')).toBe('figure-unknown');
  expect(found([]).holds('stripe')).toBeNull();
  expect(found([night(9000 * GB, 2, 1400 * GB)]).findings[0]?.message).toContain('it will never catch up');
  expect(found([night(9000 * GB, 2)]).findings[0]?.remedies).toHaveLength(1);
});

test('a backup that is under way has the hours before the night too: only what these do not suffice for is told', () => {
  const running = (bytes: number, hoursAhead: number) => ({ ...night(bytes, hoursAhead), isRunning: true });
  // 1500 GB take 6 h 57 min: with the two hours before, the six of the window suffice, and 1 h 03 min are left.
  expect(found([running(1500 * GB, 2)])).toMatchObject({ findings: [], standing: [] });
  expect(found([running(1700 * GB, 2)])).toMatchObject({ findings: [], standing: [{ subject: 'stripe' }] });
  const [finding] = found([running(1900 * GB, 2)]).findings;
  expect(finding?.remedies[0]).toEqual({
    action: 'Let the backup go on that is under way; it gives way to playback',
    effect: '2 h 00 min are left before the night, for about 432 GB',
  });
});
