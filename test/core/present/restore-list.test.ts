import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { restoreList } from '../../../src/core/present/restore-list.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-restore-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const file = (path: string, verified = true) => ({
  path,
  size: 5e9,
  verified,
  readAt: '2027-03-04T04:10:00.000+01:00',
});
const NAMES = ['it\'s $HOME `date` "q".mov', 'ä ö.mov', 'a\\b.mov', ' spaces .mov', '-n.mov', 'END_OF_LIST.mov'];

// rsync and a POSIX shell.
test('what is printed brings back exactly these files when a shell takes it, whatever their names, and overwrites nothing', () => {
  const [shelf, volume] = [join(folder, "shelf's"), join(folder, 'stripe now')];
  for (const dir of [join(shelf, 'stripe/Lock Keepers'), join(volume, 'Lock Keepers')])
    mkdirSync(dir, { recursive: true });
  for (const name of [...NAMES, 'other.mov']) writeFileSync(join(shelf, 'stripe/Lock Keepers', name), name);
  writeFileSync(join(volume, 'Lock Keepers', 'ä ö.mov'), 'newer');
  const files = NAMES.map((name) => file(`Lock Keepers/${name}`));
  const text = restoreList([{ volume: 'stripe', shelf: 'shelf-a', volumePath: volume, shelfPath: shelf, files }]);
  execFileSync('sh', ['-e'], { input: text });
  expect(readdirSync(join(volume, 'Lock Keepers')).toSorted()).toEqual(NAMES.toSorted());
  expect(execFileSync('cat', [join(volume, 'Lock Keepers', 'ä ö.mov')], { encoding: 'utf8' })).toBe('newer');
});

test('names that no line can have are told, not put into the command', () => {
  const files = [file('a\nrm -rf x'), file('#b.mov'), file('c\uf7ff.mov', false)];
  const text = restoreList([{ volume: 'stripe', shelf: 'shelf-a', volumePath: '/v', shelfPath: '/s', files }]);
  expect(text.split('\n').every((line) => line === '' || line.startsWith('#'))).toBe(true);
  expect(text).toMatch(
    /^# 3 files \(15\.0 GB\) of stripe are on shelf-a and no longer on the volume; each\n# was read there on 2027-03-04 or later\./,
  );
  expect(text).toContain('# Of 1 file it is not sure');
});

test('nothing is lost', () => {
  expect(restoreList([{ volume: 'stripe', shelf: 'a', volumePath: '/v', shelfPath: '/s', files: [] }])).toMatch(
    /^Nothing: /,
  );
});
