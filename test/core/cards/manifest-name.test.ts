import { expect, test } from 'vitest';
import { isManifestName } from '../../../src/core/cards/manifest-name.ts';

test.each([
  // ASC MHL Specification 1.0, 6.3: how a manifest is called.
  'Saltmarsh/Day 3/ascmhl/0001_Day 3_2027-03-04_140512Z.mhl',
  'Card A.MHL',
  'sums.md5',
  'Day 3/card-a.sha256',
  'card.sha1sum',
  'card.xxh64',
  'card.xxh128',
  // Common practice, no source.
  'MD5SUMS',
  'SHA256SUMS.txt',
])('%s is one', (path) => expect(isManifestName(path)).toBe(true));

test.each([
  // One checksum beside one file.
  'A001.mov.md5',
  'Clip/C0001.MXF.sha256',
  'ascmhl/ascmhl_chain.xml',
  'md5',
  '.md5',
  'notes.txt',
  'A001.mov',
])('%s is none', (path) => expect(isManifestName(path)).toBe(false));
