import { describe, expect, test } from 'vitest';
import { markerContent, readMarker, type ShelfLook } from '../../../src/core/backup/shelf-port.ts';
import { judgeShelf, type ShelfCase } from '../../../src/core/backup/shelf-verdict.ts';

const MARKER = { id: 'id-a', name: 'shelf-a', content: markerContent({ id: 'id-a', name: 'shelf-a' }) };
const LOOK: Extract<ShelfLook, { is: 'there' }> = {
  ...{
    is: 'there',
    marker: MARKER,
    device: 7n,
    isMounted: true,
    readOnly: false,
    fileSystem: 'ext4',
    totalBytes: 8e12,
    freeBytes: 3e12,
  },
  ...{ drives: ['S1'], volume: { device: 1n, drives: ['N1', 'N2'] } },
};
const KNOWN = { id: 'id-a', name: 'shelf-a', drive: 'S1', seenAt: 1, totalBytes: 8e12, freeBytes: 3e12 };

function verdict(look: Partial<typeof LOOK> | { is: 'absent'; why: string }, over: Partial<ShelfCase> = {}) {
  const seen = 'why' in look ? look : { ...LOOK, ...look };
  return judgeShelf({ name: 'shelf-a', path: '/media/shelf-a', look: seen, known: [KNOWN], adopt: false, ...over });
}
const reason = (...args: Parameters<typeof verdict>) => {
  const found = verdict(...args);
  return found.is === 'refused' ? found.reason : found.is;
};

describe('what lies at the path of a shelf', () => {
  test('is the shelf when it has its marker, wherever it is mounted', () => {
    expect(verdict({})).toMatchObject({
      ...{ is: 'ready', id: 'id-a', drive: 'S1' },
      guard: { root: '/media/shelf-a', marker: '.headroomd-shelf.json', content: MARKER.content, device: 7n },
    });
    expect(verdict({ drives: [] })).toMatchObject({ drive: null });
    // A kernel's name is another after a restart.
    expect(verdict({ drives: ['S1', 'name sdb'] })).toMatchObject({ drive: null });
  });

  test('a drive that is mounted there for the first time becomes the shelf; a folder only when a person says so', () => {
    const first = { known: [] };
    expect(reason({ marker: null }, first)).toBe('new');
    expect(reason({ marker: null, isMounted: false }, first)).toBe('shelf-unmarked');
    expect(reason({ marker: null, isMounted: false }, { ...first, adopt: true })).toBe('new');
  });

  test('without the marker that it had it is not the shelf, mounted or not', () => {
    expect(reason({ marker: null })).toBe('shelf-absent');
    expect(reason({ marker: null, isMounted: false })).toBe('shelf-absent');
    expect(reason({ marker: null }, { adopt: true })).toBe('new');
  });

  test('with the marker of another shelf it is that one, until a person says otherwise', () => {
    const other = { marker: { ...MARKER, id: 'id-b', name: 'shelf-b' } };
    expect(reason(other)).toBe('shelf-another');
    expect(reason(other, { adopt: true })).toBe('ready');
    // A shelf that comes from another workstation has a marker already.
    expect(reason(other, { known: [] })).toBe('ready');
    expect(reason({ marker: 'damaged' }, { adopt: true })).toBe('shelf-damaged');
    expect(verdict({ is: 'absent', why: 'it does not exist.' })).toMatchObject({
      ...{ reason: 'shelf-absent', message: 'shelf-a is not there: it does not exist.' },
    });
  });

  test('on the device, or on a drive, of the working volume it is no place for copies, whoever says so', () => {
    const adopt = { adopt: true };
    expect(reason({ device: 1n }, adopt)).toBe('same-device');
    expect(verdict({ drives: ['name vda'], volume: { device: 1n, drives: ['name vda'] } }, adopt)).toMatchObject({
      ...{ reason: 'same-drive', message: expect.stringContaining('on a drive of the working volume (vda)') },
    });
    expect(reason({ volume: null })).toBe('ready');
  });
});

test('a marker is read back as it was written; nothing else is one', () => {
  const marker = { id: 'a "b"', name: 'shelf ä' };
  expect(readMarker(markerContent(marker))).toEqual(marker);
  for (const other of [
    '',
    '7',
    'null',
    '{}',
    '{"headroomd":"shelf","id":"","name":"x"}',
    '{"headroomd":"shelf","id":"x"}',
  ]) {
    expect(readMarker(other)).toBeNull();
  }
});
