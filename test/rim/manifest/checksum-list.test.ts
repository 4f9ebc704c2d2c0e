import { execFileSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { at, readAt, readWritten } from './written.ts';

/** Names that a checksum list has to escape, and that it need not; one is no UTF-8. */
const NAMES = [
  Buffer.from('A001C001.mov'),
  Buffer.from('two  spaces and a * star.mov'),
  Buffer.from(' begins with a space.wav'),
  Buffer.from('new\nline.mov'),
  Buffer.from('back\\slash\\n.mov'),
  Buffer.from('carriage\rreturn.mov'),
  Buffer.from('(in) brackets = x.mov'),
  Buffer.from('caf\u00e9.mov'),
  Buffer.concat([Buffer.from('latin1 '), Buffer.from([0xe9]), Buffer.from('.mov')]),
  Buffer.from('Clips/deeper.mov'),
];
const PATHS = NAMES.map((name) => fromBytes(name)).sort();

/** Runs a program of GNU coreutils over all names, from their folder; its output becomes the list. */
function write(list: string, program: string, ...options: string[]): void {
  // A name that is no UTF-8 can only be handed over by the shell, which expands it by itself.
  const command = `cd "$0" && { find . -type f -printf '%P\\0' | xargs -0 ${program} ${options.join(' ')} -- ; } > "$1"`;
  execFileSync('sh', ['-c', command, at('sums'), at(list)]);
}

async function pathsOf(list: string): Promise<string[]> {
  const read = await readAt(list);
  if (!read.ok) throw new Error(read.detail);
  expect(read.gap).toBeNull();
  expect(read.files.every(({ size, mtimeMs }) => size === null && mtimeMs === null)).toBe(true);
  return read.files.map(({ path }) => path).sort();
}

beforeAll(() => {
  mkdirSync(at('sums/Clips'), { recursive: true });
  for (const name of NAMES) writeFileSync(Buffer.concat([Buffer.from(`${at('sums')}/`), name]), 'x');
});

describe('what GNU coreutils write', () => {
  test.each<[string, string, ...string[]]>([
    ['plain', 'md5sum'],
    ['binary', 'md5sum', '--binary'],
    ['tagged', 'md5sum', '--tag'],
    ['plain', 'sha1sum'],
    ['plain', 'sha256sum'],
    ['tagged', 'sha256sum', '--tag'],
    ['tagged', 'sha512sum', '--tag'],
    ['plain', 'b2sum'],
    ['tagged', 'b2sum', '--tag'],
    ['tagged', 'b2sum', '--tag', '--length=256'],
    ['plain', 'cksum', '--algorithm=sha256', '--untagged'],
  ])('%s of %s %s', async (_, program, ...options) => {
    write('list.sums', program, ...options);
    expect(await pathsOf('list.sums')).toEqual(PATHS);
  });

  test('and from find, with ./ before every name', async () => {
    execFileSync('sh', ['-c', 'cd "$0" && find . -type f -exec md5sum {} + > "$1"', at('sums'), at('found.md5')]);
    expect(await pathsOf('found.md5')).toEqual(PATHS);
  });
});

const MD5 = 'd41d8cd98f00b204e9800998ecf8427e';

describe('what else such lists hold', () => {
  test.each<[string, string, string[]]>([
    ['a comment and empty lines', `# made by hand\n\n${MD5}  a.mov\n`, ['a.mov']],
    ['line ends of other systems', `${MD5}  a.mov\r\n${MD5} *b.mov\r\n`, ['a.mov', 'b.mov']],
    ['a byte order mark', `\ufeff${MD5}  a.mov\n`, ['a.mov']],
    // GNU coreutils manual: the form of `md5 -r` and of OpenSSL are taken by --check.
    ['one space', `${MD5} a.mov\n`, ['a.mov']],
    ['no spaces round the brackets', `MD5(a.mov)= ${MD5}\n`, ['a.mov']],
    ['capitals', `${MD5.toUpperCase()}  A.MOV\n`, ['A.MOV']],
    [
      '16 and 32 digits of xxHash',
      `ef46db3751d8e999  a.mov\n99aa06d3014798d86001c324468d497f  b.mov\n`,
      ['a.mov', 'b.mov'],
    ],
    ['one name twice', `${MD5}  a.mov\n${MD5}  ./a.mov\n`, ['a.mov']],
    ['a comma', `${MD5}  a, b.mov\n`, ['a, b.mov']],
  ])('%s', async (_, text, paths) => {
    expect(await readWritten(text, 'Day 3/list.md5')).toMatchObject({
      ok: true,
      base: 'Day 3',
      files: paths.map((path) => ({ path })),
      gap: null,
    });
  });

  test('lines that are none are counted and said', async () => {
    const read = await readWritten(`${MD5}  a.mov\nhello\n\\${MD5}  bad\\escape\n${MD5}  b.mov\n`, 'x.md5');
    expect(read).toMatchObject({ ok: true, files: [{ path: 'a.mov' }, { path: 'b.mov' }] });
    expect(read).toHaveProperty('gap', '2 of its 4 lines could not be read');
  });

  test('a last line without an end may be cut', async () => {
    const read = await readWritten(`${MD5}  a.mov\n${MD5}  b.m`, 'x.md5');
    expect(read).toMatchObject({ ok: true, gap: 'its last line has no end: it may be cut' });
  });

  test.each<[string, string | Uint8Array, string, RegExp]>([
    ['nothing', '', 'not-a-manifest', /empty/],
    ['prose', 'Dear all,\nthe cards are in the safe.\n', 'not-a-manifest', /^No line/],
    ['much prose', 'lorem ipsum\n'.repeat(5000), 'not-a-manifest', /^Most of its lines/],
    ['zeros', new Uint8Array(100_000), 'not-a-manifest', /^Line 1 is longer/],
    ['a NUL in a name', `${MD5}  a\0b.mov\n`, 'not-a-manifest', /^Line 2? ?/],
    ['a line without end', 'a'.repeat(200_000), 'not-a-manifest', /^Line 1 is longer/],
  ])('%s is no list', async (_, content, reason, detail) => {
    const read = await readWritten(content, 'x.md5');
    expect(read).toMatchObject({ ok: false, reason });
    expect(read.ok ? '' : read.detail).toMatch(detail);
  });
});
