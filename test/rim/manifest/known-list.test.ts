import { execFileSync } from 'node:child_process';
import { appendFileSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import type { KnownList } from '../../../src/core/cards/known-list.ts';
import { createListPort } from '../../../src/rim/manifest/list-port.ts';
import { historyByHand } from './by-hand.ts';

const root = mkdtempSync(join(tmpdir(), 'headroomd-lists-'));
afterAll(() => rmSync(root, { recursive: true }));
const port = createListPort(fileURLToPath(new URL('../../../src/daemon/compose-list.ts', import.meta.url)));
let folders = 0;

function folder(): { base: string; path: string } {
  const base = `Saltmarsh/Day ${++folders}`;
  const path = join(root, base);
  mkdirSync(path, { recursive: true });
  for (const name of ['a.mov', 'b & c.mov']) writeFileSync(join(path, name), `content of ${name}`);
  return { base, path };
}

async function read(place: string, base: string): Promise<KnownList> {
  const told = await port.read(root, { place, base });
  if (!told.ok) throw new Error(told.detail);
  return told.list;
}

/** As the program itself prints it in its plain form. */
function valueBy(program: string, options: string[], cwd: string): string {
  return /([0-9a-f]{8,})/.exec(execFileSync(program, [...options, 'a.mov'], { cwd, encoding: 'utf8' }))?.[1] ?? '';
}

describe('what a list says of contents', () => {
  test.each([
    ['md5sum', [], 'day.md5', 'md5'],
    ['md5sum', ['--tag'], 'day.md5', 'md5'],
    ['sha1sum', [], 'SHA1SUMS', 'sha1'],
    ['sha256sum', ['--tag'], 'day.sha256', 'sha256'],
    ['sha512sum', [], 'day.sha512', 'sha512'],
    ['b2sum', [], 'day.b2', 'b2'],
    ['b2sum', ['--tag'], 'day.b2', 'b2'],
    ['xxhsum', ['-H0'], 'day.xxh32', 'xxh32'],
    ['xxhsum', ['-H1'], 'day.xxh', 'xxh64'],
    ['xxhsum', ['-H2'], 'day.xxh128', 'xxh128'],
    ['xxhsum', ['-H1', '--tag'], 'day.xxh64', 'xxh64'],
  ] as const)('%s %j > %s', async (program, options, name, format) => {
    const { base, path } = folder();
    const text = execFileSync(program, [...options, 'a.mov', 'b & c.mov'], { cwd: path, encoding: 'utf8' });
    writeFileSync(join(path, name), text);
    const { kind, files } = await read(`${base}/${name}`, base);
    expect(kind).toBe('list');
    expect(files.map((file) => file.path)).toEqual(['a.mov', 'b & c.mov']);
    expect(files[0]?.sums).toEqual({
      [format]: valueBy(
        program,
        options.filter((one) => one !== '--tag'),
        path,
      ),
    });
  });

  test("a value whose length is not its format's proves nothing", async () => {
    const { base, path } = folder();
    writeFileSync(join(path, 'day.sha256'), `${'ab'.repeat(16)}  a.mov\n`);
    expect((await read(`${base}/day.sha256`, base)).files).toEqual([{ path: 'a.mov', size: null, sums: {} }]);
  });

  test('a history: all generations together, where each file lies last', async () => {
    const { base, path } = folder();
    historyByHand(path, 'Day', [
      [
        { path: 'a.mov', size: 16, md5: 'a'.repeat(32) },
        { path: 'old.mov', size: 9, xxh128: 'b'.repeat(32) },
      ],
      [{ path: 'b &amp; c.mov', size: 9, xxh64: 'c'.repeat(16), previousPath: 'old.mov' }],
    ]);
    expect(await read(`${base}/ascmhl`, base)).toEqual({
      kind: 'history',
      files: [
        { path: 'a.mov', size: 16, sums: { md5: 'a'.repeat(32) } },
        { path: 'b & c.mov', size: 9, sums: { xxh128: 'b'.repeat(32), xxh64: 'c'.repeat(16) } },
      ],
      ignore: ['ascmhl'],
    });
  });

  test('a manifest that was changed after it was chained is not relied on', async () => {
    const { base, path } = folder();
    historyByHand(path, 'Day', [[{ path: 'a.mov', size: 16, md5: 'a'.repeat(32) }]]);
    const [manifest = ''] = readdirSync(join(path, 'ascmhl')).filter((name) => name.endsWith('.mhl'));
    appendFileSync(join(path, 'ascmhl', manifest), ' ');
    const told = await port.read(root, { place: `${base}/ascmhl`, base });
    expect(told).toMatchObject({ ok: false });
    expect(!told.ok && told.detail).toMatch(/ascmhl\/0001_Day_.*: The chain has c4/);
  });

  test('a list of the older kind (Media Hash List 1.1, from memory)', async () => {
    const { base, path } = folder();
    const hash = `<hash><file>a.mov</file><size>16</size><md5>${'A'.repeat(32)}</md5><xxhash64be>0123456789abcdef</xxhash64be></hash>`;
    writeFileSync(join(path, 'day.mhl'), `<?xml version="1.0"?><hashlist version="1.1">${hash}</hashlist>`);
    expect((await read(`${base}/day.mhl`, base)).files).toEqual([
      { path: 'a.mov', size: 16, sums: { md5: 'a'.repeat(32), xxh64: '0123456789abcdef' } },
    ]);
  });

  test('one that is gone is told', async () => {
    expect(await port.read(root, { place: 'Saltmarsh/none.md5', base: 'Saltmarsh' })).toMatchObject({ ok: false });
  });
});
