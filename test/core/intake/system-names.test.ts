import { describe, expect, test } from 'vitest';
import { isTemporaryName, nameBehindTemporary, systemName } from '../../../src/core/intake/system-names.ts';

describe('names of systems and servers, in any case, at any depth', () => {
  test.each([
    'lost+found',
    'System Volume Information',
    'SYSTEM VOLUME INFORMATION',
    '.Spotlight-V100',
    '.fseventsd',
    '.DocumentRevisions-V100',
    '.TemporaryItems',
    '.DS_Store',
    '._A001.mov',
    'Thumbs.db',
    'desktop.ini',
    '.snapshot',
    '.snapshots',
    '.zfs',
    '#snapshot',
    '@eaDir',
    '.nfs000000000123abcd00000002',
    '.fuse_hidden0000001200000001',
    'Icon\r',
  ])('%j', (name) => {
    expect(systemName(name, 0)).toBe('system');
    expect(systemName(name, 3)).toBe('system');
  });
});

describe('trash', () => {
  // freedesktop.org trash specification 1.0: $topdir/.Trash and $topdir/.Trash-$uid.
  test.each(['.Trash', '.Trash-1000', '.Trash-0', '.Trashes', '$RECYCLE.BIN', '$Recycle.Bin', '#recycle'])(
    '%j',
    (name) => {
      expect(systemName(name, 0)).toBe('trash');
      expect(systemName(name, 2)).toBe('trash');
    },
  );

  test('words that people use are trash directly below the root only', () => {
    expect(systemName('RECYCLER', 0)).toBe('trash');
    expect(systemName('Recycler', 1)).toBe(null);
  });
});

describe('names that only look alike', () => {
  test.each([
    'Trash',
    '.Trash-x',
    'A001._mov',
    '.nfs',
    '.nfsgate',
    'lost+found 2',
    'DS_Store',
    '.hidden',
    'snapshot.jpg',
    '',
  ])('%j is nothing special', (name) => {
    expect(systemName(name, 0)).toBe(null);
    expect(systemName(name, 1)).toBe(null);
  });
});

describe('temporary names', () => {
  test.each([
    ['A001.mov.part', 'A001.mov'],
    ['A001.mov.PARTIAL', 'A001.mov'],
    ['A001.mov.filepart', 'A001.mov'],
    ['A001.mov.tmp', 'A001.mov'],
    ['A001.tmp', 'A001'],
    ['A001.mov~', 'A001.mov'],
    ['A001.mov.download', 'A001.mov'],
    ['A001.mov.xydownload', 'A001.mov'],
    ['.A001.mov.part', 'A001.mov'],
    ['.A001.mov.x7Qp2a', 'A001.mov'],
    ['.A001.mov.QWErty', 'A001.mov'],
    ['.line\nbreak.mov.x7Qp2a', 'line\nbreak.mov'],
  ])('%j becomes %j', (name, behind) => {
    expect(nameBehindTemporary(name)).toBe(behind);
    expect(isTemporaryName(name)).toBe(true);
  });

  test.each([
    'A001.mov',
    'part.mov',
    'tmp',
    'download',
    '.A001.mov.sha256',
    '.A001.BACKUP',
    '.editor.config',
    'A001.mov.x7Qp2a',
    '.x7Qp2a',
    '~',
    '.part',
    '',
  ])('%j is not one', (name) => {
    expect(isTemporaryName(name)).toBe(false);
  });
});
