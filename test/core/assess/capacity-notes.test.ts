import { expect, test } from 'vitest';
import { capacityNotes, keepsDeleted } from '../../../src/core/assess/capacity-notes.ts';

const SPACE = { totalBytes: 2e12, freeBytes: 1e12, availableBytes: 1e12 };

test('what the room that a file system tells does not mean', () => {
  expect(capacityNotes('ext4', SPACE)).toEqual([]);
  expect(capacityNotes(null, SPACE)).toEqual([]);
  expect(capacityNotes('ext4', SPACE, ['stripe-2'])).toEqual([
    'It lies on one file system with stripe-2: their room is the same room, and when it will be full is reckoned here with what comes to this one alone.',
  ]);
  expect(capacityNotes('xfs', { ...SPACE, fileSystemBytes: 16e12 })).toEqual([
    'A quota keeps this folder to 2.00 TB of the 16.0 TB that the file system has.',
  ]);
  expect(capacityNotes('btrfs', SPACE)[0]).toMatch(/estimate, and snapshots keep the room/);
  expect(capacityNotes('zfs', { ...SPACE, fileSystemBytes: 16e12 })).toHaveLength(2);
  expect(['btrfs', 'zfs', 'ext4', 'constructor', null].map(keepsDeleted)).toEqual([true, true, false, false, false]);
});
