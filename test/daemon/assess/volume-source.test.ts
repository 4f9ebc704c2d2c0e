import { expect, test } from 'vitest';
import { assessVolumes, type VolumeSource } from '../../../src/daemon/assess/volume-source.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { NOON } from '../../core/samples.ts';

const [one, two, three, four] = settingsForFolders(['/media/a', '/media/b', '/media/c', '/media/d']).volumes;

function source(settings: typeof one, mountedFrom: string | null): VolumeSource {
  if (settings === undefined) throw new Error('there are four');
  return {
    ...{ settings, mountedFrom, fileSystem: 'ext4', mountOptions: [] },
    ...{ state: () => ({ state: 'live', detail: null }), complete: () => true },
    space: () => Promise.reject(new Error('nobody asks')),
    arrivals: () => ({ lines: [], pending: 0, bytes: 0 }),
  };
}

test('volumes on one file system know of each other; of what is not known nothing is said', () => {
  const volumes = assessVolumes(
    [source(one, '259:1'), source(two, '259:2'), source(three, '259:1'), source(four, null)],
    {
      ...{ at: NOON, rooms: new Map(), removed: new Map(), loads: new Map(), samples: () => [] },
      drives: () => ({ detected: null, signs: [] }),
      wanted: () => ({ copies: 1, readWithinDays: 60 }),
    },
    { projects: [], newest: new Map(), unsearched: new Set() },
  );
  expect(volumes.map(({ name, sharesRoomWith }) => [name, sharesRoomWith])).toEqual([
    ['a', ['c']],
    ['b', []],
    ['c', ['a']],
    ['d', []],
  ]);
});
