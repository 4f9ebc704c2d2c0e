import { execFileSync } from 'node:child_process';
import { mkdirSync, statSync, symlinkSync, truncateSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';
import { readManifest } from '../../../src/rim/manifest/read-manifest.ts';
import { at, readAt, readWritten } from './written.ts';

const MIB = 1024 * 1024;
const OPEN = '<hashlist version="1.1">';
const entry = (path: string) => `<hash><file>${path}</file><size>1</size></hash>`;
const listOf = (...paths: string[]) => `${OPEN}${paths.map(entry).join('')}</hashlist>`;

describe('paths that lead astray', () => {
  test.each([
    '../outside.mov',
    'a/../../outside.mov',
    '/etc/passwd',
    '..',
    '.',
    '',
    '/',
    'a/..',
    '..\\outside.mov',
    '\\outside.mov',
    `${'a/'.repeat(3000)}b`,
    'n'.repeat(256),
  ])('%j is left out, and that is said', async (path) => {
    const read = await readWritten(listOf('good.mov', path));
    expect(read).toMatchObject({ ok: true, files: [{ path: 'good.mov' }] });
    expect(read).toHaveProperty(
      'gap',
      expect.stringMatching(/^1 of its paths lead out of its folder or can be no file's \(the first: "/),
    );
  });

  // XML 1.0, production Char: neither is a character.
  test.each(['a&#0;b.mov', '&#xD800;.mov'])('%s is no XML, or no name', async (path) => {
    const read = await readWritten(listOf(path));
    expect(read.ok ? read.files : []).toEqual([]);
  });

  test('odd ones are only tidied', async () => {
    const read = await readWritten(listOf('./a//b.mov', '...', 'a/...b', ' c '));
    expect(read).toMatchObject({
      files: [{ path: 'a/b.mov' }, { path: '...' }, { path: 'a/...b' }, { path: ' c ' }],
      gap: null,
    });
  });

  test('of any path, in any kind of list, only what stays below is kept', async () => {
    const name = fc.oneof(
      fc.constantFrom('..', '.', '', 'a', '...', '\\'),
      fc.string({ unit: 'binary', maxLength: 6 }),
    );
    const paths = fc.array(name, { minLength: 1, maxLength: 5 }).map((names) => names.join('/'));
    await fc.assert(
      fc.asyncProperty(fc.array(paths, { minLength: 1, maxLength: 8 }), async (all) => {
        const escaped = all.map((path) => path.replace(/[^ -~]|[<&>]/gu, (sign) => `&#${sign.codePointAt(0)};`));
        const lines = all.map((path) => `${'0'.repeat(32)}  ${path.replaceAll('\n', '')}\n`);
        for (const read of [await readWritten(listOf(...escaped)), await readWritten(lines.join(''), 'x.md5')]) {
          for (const { path } of read.ok ? read.files : []) {
            expect(path.split('/').some((part) => part === '' || part === '.' || part === '..')).toBe(false);
            expect(path).not.toContain('\0');
          }
        }
      }),
    );
  });
});

describe('what is not a plain file', () => {
  test('a symbolic link is not followed', async () => {
    writeFileSync(at('real.mhl'), listOf('a.mov'));
    symlinkSync(at('real.mhl'), at('link.mhl'));
    expect(await readAt('link.mhl')).toMatchObject({ ok: false, reason: 'unreadable', detail: /symbolic link/ });
  });

  test('a pipe holds nobody up, a folder is no list, and what is gone is unreadable', async () => {
    execFileSync('mkfifo', [at('pipe.md5')]);
    expect(await readAt('pipe.md5')).toMatchObject({ ok: false, reason: 'not-a-manifest' });
    mkdirSync(at('folder.md5'));
    expect(await readAt('folder.md5')).toMatchObject({ ok: false, reason: 'not-a-manifest' });
    const stat = toFileStat('gone.md5', statSync(at('real.mhl'), { bigint: true }));
    expect(await readManifest(at('gone.md5'), stat)).toMatchObject({
      ok: false,
      reason: 'unreadable',
      detail: /ENOENT/,
    });
  });
});

/** Reads a file in a process of its own and tells how long that took, and how much memory at most. */
function measured(path: string): { read: { ok: boolean; reason?: string; detail?: string }; ms: number; mb: number } {
  const module = (file: string) =>
    JSON.stringify(pathToFileURL(`${import.meta.dirname}/../../../src/rim/${file}`).href);
  const program = `
    import { statSync } from 'node:fs';
    import { readManifest } from ${module('manifest/read-manifest.ts')};
    import { toFileStat } from ${module('base/file-stat.ts')};
    const path = process.argv[1];
    const before = process.resourceUsage().maxRSS;
    const begun = performance.now();
    const { files, ...read } = await readManifest(path, toFileStat('x.mhl', statSync(path, { bigint: true })));
    const ms = performance.now() - begun;
    console.log(JSON.stringify({ read, ms, mb: (process.resourceUsage().maxRSS - before) / 1024 }));`;
  const output = execFileSync(process.execPath, ['--input-type=module', '-e', program, path], { encoding: 'utf8' });
  return JSON.parse(output);
}

/** A file of one text over and over, up to a size. */
function writeMany(path: string, head: string, part: string, bytes: number, tail = ''): string {
  writeFileSync(at(path), head + part.repeat(Math.ceil(bytes / part.length)) + tail);
  return at(path);
}

function writeHole(path: string, bytes: number): string {
  writeFileSync(at(path), '');
  truncateSync(at(path), bytes);
  return at(path);
}

describe('what would cost time and memory', () => {
  const LOL = `<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol">${Array.from(
    { length: 9 },
    (_, index) => `<!ENTITY lol${index + 1} "${`&lol${index || ''};`.repeat(10)}">`,
  ).join('')}]>${listOf('&lol9;')}`;

  test('entities within entities: no document type is taken', async () => {
    expect(await readWritten(LOL)).toMatchObject({ ok: false, reason: 'damaged', detail: /document type/ });
  });

  test('a file outside is not read', async () => {
    writeFileSync(at('secret'), 'secret');
    const text = `<!DOCTYPE x [<!ENTITY e SYSTEM "file://${at('secret')}">]>${listOf('&e;')}`;
    expect(await readWritten(text)).toMatchObject({ ok: false, reason: 'damaged', detail: /document type/ });
  });

  test.each<[string, () => string, string]>([
    ['elements within elements without end', () => writeMany('deep.mhl', OPEN, '<a>', 60 * MIB), 'damaged'],
    [
      'one element with attributes without end',
      () => writeMany('wide.mhl', '<hashlist version="1.1" ', 'a="" ', 60 * MIB),
      'damaged',
    ],
    [
      'one with different attributes',
      () =>
        writeMany(
          'wide2.mhl',
          '<hashlist ',
          Array.from({ length: 9999 }, (_, index) => `a${index}="" `).join(''),
          60 * MIB,
        ),
      'damaged',
    ],
    ['one name without end', () => writeMany('name.mhl', `${OPEN}<hash><file>`, 'name', 60 * MIB), 'damaged'],
    ['one comment without end', () => writeMany('comment.mhl', `${OPEN}<!--`, 'word ', 60 * MIB), 'damaged'],
    ['one tag name without end', () => writeMany('tag.mhl', '<', 'tag', 60 * MIB), 'damaged'],
    ['more than 64 MiB', () => writeMany('large.mhl', OPEN, entry('a'), 65 * MIB, '</hashlist>'), 'too-large'],
    ['100 MiB of nothing', () => writeHole('hole.md5', 100 * MIB), 'too-large'],
  ])('%s', (_, make, reason) => {
    const { read, ms, mb } = measured(make());
    expect(read).toMatchObject({ ok: false, reason });
    expect(ms).toBeLessThan(5_000);
    expect(mb).toBeLessThan(100);
  });

  test('hundreds of thousands of entries of one file are one file; more files than are kept are too many', () => {
    const same = measured(writeMany('same.mhl', OPEN, entry('a'), 16 * MIB, '</hashlist>'));
    expect(same.read).toMatchObject({ ok: true });
    expect(same.ms).toBeLessThan(15_000);
    expect(same.mb).toBeLessThan(100);
    const lines = Array.from({ length: 600_000 }, (_, index) => `${'0'.repeat(32)}  ${index}.mov\n`).join('');
    writeFileSync(at('many.md5'), lines);
    const many = measured(at('many.md5'));
    expect(many.read).toMatchObject({ ok: false, reason: 'too-large' });
    expect(many.mb).toBeLessThan(400);
  });

  test('any bytes give an outcome', async () => {
    const begin = fc.constantFrom(
      '',
      '<',
      '<?xml version="1.0"?>',
      OPEN,
      `${OPEN}<hash><file>`,
      `${'0'.repeat(32)}  `,
      '\ufeff',
    );
    await fc.assert(
      fc.asyncProperty(begin, fc.uint8Array({ maxLength: 300 }), async (text, bytes) => {
        const read = await readWritten(Buffer.concat([Buffer.from(text), bytes]), 'x.mhl');
        expect(read.ok ? 'ok' : read.reason).toMatch(/^(?:ok|not-a-manifest|damaged)$/);
      }),
    );
  });

  test('names that mean something in JavaScript are names', async () => {
    const text =
      '<hashlist version="1.1" hasOwnProperty="x" __proto__="y" constructor="z"><hash><file>__proto__</file></hash></hashlist>';
    const read = await readWritten(text);
    expect(read.ok ? read.files : read.reason).toEqual(
      read.ok ? [{ path: '__proto__', size: null, mtimeMs: null }] : 'damaged',
    );
  });
});
