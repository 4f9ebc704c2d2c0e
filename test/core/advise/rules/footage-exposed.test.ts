import { expect, test } from 'vitest';
import { footageExposed } from '../../../../src/core/advise/rules/footage-exposed.ts';
import { NO_BACKUPS, type ShelfState } from '../../../../src/core/backup/backup-view.ts';
import { NOON, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HOUR = 3_600_000;
const shelf = (name: string, over: Partial<ShelfState> = {}): ShelfState => ({
  ...{ name, path: `/media/${name}`, rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  ...{ lookedAt: NOON, known: null, full: null },
  ...over,
});
const AWAY = { state: 'shelf-absent' } as const;

function found(hours: number, shelves: ShelfState[], bytes: number | null = 5e11) {
  const safety =
    bytes === null
      ? null
      : { exposedBytes: bytes, exposedClips: 12, exposedSeconds: 60, exposedSince: NOON - hours * HOUR };
  return footageExposed.evaluate(
    sampleAssessment({ at: NOON, volumes: [sampleVolume({ safety })], backups: { ...NO_BACKUPS, shelves } }),
    THRESHOLDS,
  );
}

test('it is told when a night and the day after it made no copy', () => {
  expect(found(35.9, [shelf('shelf-a')]).findings).toEqual([]);
  const [finding] = found(40, [shelf('shelf-a')]).findings;
  expect(finding).toMatchObject({ subject: 'stripe', severity: 'warning' });
  expect(finding?.message).toBe(
    'stripe: 500 GB of footage (12 clips) has fewer verified copies than you want, the oldest for 40 h. If the volume fails it is lost, unless it is still on its cards: keep them.',
  );
  expect(finding?.remedies.map(({ action }) => action)).toEqual([
    'Run "headroomd backup now", and look at "headroomd backup status" for what it left behind',
  ]);
  expect(found(40, [shelf('shelf-a')], 0).findings).toEqual([]);
  expect(found(40, [shelf('shelf-a')], null).holds('stripe')).toBe('figure-unknown');
});

test('a shelf that is away is to be mounted; one that rotates is no warning while another is here', () => {
  const [away] = found(40, [shelf('shelf-a', AWAY)]).findings;
  expect(away?.severity).toBe('warning');
  expect(away?.remedies).toEqual([
    { action: 'Mount shelf-a', effect: 'what it lacks is copied to it at once, and read back' },
  ]);
  const rotating = shelf('shelf-b', { ...AWAY, rotate: true });
  const [notice] = found(40, [shelf('shelf-a'), rotating]).findings;
  expect(notice?.severity).toBe('notice');
  expect(notice?.remedies.map(({ action }) => action)[0]).toBe('Mount shelf-b');
  expect(found(40, [rotating]).findings[0]?.severity).toBe('warning');
});

test('without a backup of the volume it is a notice, and says what one would do', () => {
  const [finding] = found(40, [shelf('shelf-a', { volumes: ['other'] })]).findings;
  expect(finding?.severity).toBe('notice');
  expect(finding?.message).toContain('for no backup of it is configured');
  expect(finding?.remedies[0]?.effect).toBe(
    '500 GB are copied there and read back, each night and ten minutes after footage came',
  );
});
