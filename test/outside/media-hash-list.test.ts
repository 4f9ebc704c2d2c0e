import { execFileSync, spawnSync } from 'node:child_process';
import { appendFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { recordTree } from '../../src/rim/manifest/tree-histories.ts';
import { inShort, lay, manifests, operation, walk } from '../rim/manifest/trees.ts';
import { at } from '../rim/manifest/written.ts';

const FILES = {
  'Clips/A001C001_270304.mov': 'take a',
  'Clips/B & <C>.mov': 'take b',
  'Sound/caf\u00e9.wav': 'sound',
  'empty.txt': '',
};

test('what another XML reader takes from a list, md5sum of GNU coreutils finds to be so', () => {
  const top = lay(at('outside/Tidewater Sessions'), FILES);
  recordTree(walk(top, ['md5']), operation(0, { folderFormat: 'md5' }));
  const list = join(top, 'ascmhl', manifests(top)[0] ?? '');
  const take = (query: string) =>
    execFileSync('xmllint', ['--nonet', '--xpath', query, list], { encoding: 'utf8' }).trim();
  const hashes = "/*/*[local-name()='hashes']/*[local-name()='hash']";
  const lines = Array.from({ length: Number(take(`count(${hashes})`)) }, (_, index) => {
    const one = (name: string) => take(`string(${hashes}[${index + 1}]/*[local-name()='${name}'])`);
    return `${one('md5')}  ${one('path')}`;
  });
  expect(lines.map((line) => line.slice(34))).toEqual(Object.keys(FILES));
  const checked = spawnSync('md5sum', ['--check', '--strict'], {
    cwd: top,
    input: `${lines.join('\n')}\n`,
    encoding: 'utf8',
  });
  expect(checked.status, checked.stderr).toBe(0);
  expect(checked.stdout.match(/: OK$/gm)).toHaveLength(4);
});

/** The reference implementation of the standard, where somebody has put it on the PATH; its exit codes are its own. */
const found = spawnSync('ascmhl', ['--version'], { encoding: 'utf8' });
if (found.status !== 0) {
  console.warn('NOT CHECKED: histories against the reference implementation of ASC MHL, which is not installed here.');
} else {
  test('the reference implementation goes on with our history, and finds what was altered and what is missing', () => {
    const reference = (top: string) => spawnSync('ascmhl', ['create', '-h', 'xxh64', top], { encoding: 'utf8' }).status;
    const made = (name: string) => {
      const top = lay(at(`reference-${name}/Saltmarsh`), FILES);
      recordTree(walk(top), operation(0));
      recordTree(walk(top), operation(1));
      return top;
    };
    const clean = made('clean');
    expect(reference(clean)).toBe(0);
    expect(inShort(recordTree(walk(clean), operation(2)))).toEqual({ '': 'generation 4, 4 intact' });
    const altered = made('altered');
    writeFileSync(join(altered, 'Clips/A001C001_270304.mov'), 'take A');
    expect(reference(altered)).toBe(11);
    const missing = made('missing');
    rmSync(join(missing, 'empty.txt'));
    expect(reference(missing)).toBe(10);
    const modified = made('modified');
    appendFileSync(join(modified, 'ascmhl', manifests(modified)[0] ?? ''), '\n');
    expect(reference(modified)).toBe(31);
  });
}
