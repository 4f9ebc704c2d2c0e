import { describe, expect, test } from 'vitest';
import { readWritten } from './written.ts';

/**
 * A document made by hand after the ASC Media Hash List Specification 1.0 (15 March 2022) and valid against its XSD
 * (checked with xmllint). Names and sizes are those of scenario 2 of the reference implementation's published examples.
 */
const ASC = `<?xml version="1.0" encoding="UTF-8"?>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">
  <creatorinfo>
    <creationdate>2020-01-16T09:15:00+00:00</creationdate>
    <hostname>cart</hostname>
    <tool version="1">by hand</tool>
  </creatorinfo>
  <processinfo>
    <process>in-place</process>
    <roothash>
      <content><xxh64 action="original">8d02114c32e28cbe</xxh64></content>
      <structure><xxh64 action="original">f557f8ca8e5a88ef</xxh64></structure>
    </roothash>
    <ignore><pattern>.DS_Store</pattern><pattern>ascmhl</pattern></ignore>
  </processinfo>
  <hashes>
    <hash>
      <path size="5" lastmodificationdate="2020-01-15T13:00:00+00:00">Clips/A002C006_141024_R2EC.mov</path>
      <xxh64 action="original" hashdate="2020-01-16T09:15:00+00:00">0ea03b369a463d9d</xxh64>
    </hash>
    <hash>
      <path size="4" lastmodificationdate="2020-01-15T14:00:00+01:00">Clips/A002C007_141024_R2EC.mov</path>
      <xxh64 action="original">7680e5f98f4a80fd</xxh64>
      <previousPath>Clips/before.mov</previousPath>
      <metadata><path size="9">not a file of the list</path></metadata>
    </hash>
    <directoryhash>
      <path>Clips</path>
      <content><xxh64>4c226b42e27d7af3</xxh64></content>
      <structure><xxh64>906faa843d591a9f</xxh64></structure>
    </directoryhash>
    <hash>
      <path size="58">Sidecar.txt</path>
      <xxh64 action="original">3ab5a4166b9bde44</xxh64>
    </hash>
    <hash>
      <path>Clips/caf&#xE9; &amp; &lt;b&gt;.mov</path>
      <md5 action="failed">d41d8cd98f00b204e9800998ecf8427e</md5>
    </hash>
  </hashes>
</hashlist>
`;

const NOON_THAT_DAY = Date.UTC(2020, 0, 15, 13);

const LISTED = [
  { path: 'Clips/A002C006_141024_R2EC.mov', size: 5, mtimeMs: NOON_THAT_DAY },
  { path: 'Clips/A002C007_141024_R2EC.mov', size: 4, mtimeMs: NOON_THAT_DAY },
  { path: 'Sidecar.txt', size: 58, mtimeMs: null },
  { path: 'Clips/caf\u00e9 & <b>.mov', size: null, mtimeMs: null },
];

describe('ASC MHL 2.0', () => {
  const NAME = 'Day 3/A002R2EC/ascmhl/0001_A002R2EC_2020-01-16_091500Z.mhl';

  test('names, sizes and times, below the folder that the folder ascmhl lies in', async () => {
    expect(await readWritten(ASC, NAME)).toEqual({ ok: true, base: 'Day 3/A002R2EC', files: LISTED, gap: null });
  });

  test('a list that lies elsewhere begins at its own folder; at the root too', async () => {
    expect(await readWritten(ASC, 'Day 3/packing.mhl')).toMatchObject({ ok: true, base: 'Day 3' });
    expect(await readWritten(ASC, 'packing.mhl')).toMatchObject({ ok: true, base: '' });
    expect(await readWritten(ASC, 'ascmhl/0001_x_2020-01-16_091500Z.mhl')).toMatchObject({ ok: true, base: '' });
  });

  test('with a prefix for its namespace, with a byte order mark, in UTF-16', async () => {
    const prefixed = ASC.replaceAll(/<(\/?)(?=[a-zA-Z])/g, '<$1m:').replace('xmlns=', 'xmlns:m=');
    for (const content of [
      prefixed,
      `\ufeff${ASC}`,
      Buffer.from(`\ufeff${ASC.replace('UTF-8', 'UTF-16')}`, 'utf16le'),
    ]) {
      expect(await readWritten(content)).toMatchObject({ ok: true, files: LISTED, gap: null });
    }
  });

  test('a path over the border of two reads, in CDATA, with characters of four bytes', async () => {
    const name = `${'🎬'.repeat(40)}.mov`;
    for (const fill of [65_000, 65_100, 65_200, 65_300]) {
      const hash = `<hash><path size="1">${name}</path></hash><hash><path size="2"><![CDATA[a<b]]></path></hash>`;
      const text = `<hashlist version="2.0"><hashes>${' '.repeat(fill)}${hash}</hashes></hashlist>`;
      const read = await readWritten(text);
      expect(read.ok && read.files.map(({ path }) => path)).toEqual([name, 'a<b']);
    }
  });

  test('a list of references alone lists no files', async () => {
    const text = ASC.replace(
      /<hashes>[\s\S]*<\/hashes>/,
      '<references><hashlistreference><path>A/ascmhl/0001.mhl</path></hashlistreference></references>',
    );
    expect(await readWritten(text)).toMatchObject({ ok: true, files: [] });
  });
});

describe('MHL 1.1', () => {
  /** Root, elements and their order: from memory of the published format. */
  const OLDER = `<?xml version="1.0" encoding="UTF-8"?>
<hashlist version="1.1">
  <creatorinfo><name>by hand</name><startdate>2020-01-16T09:15:00Z</startdate></creatorinfo>
  <hash>
    <file>Clips/A002C006_141024_R2EC.mov</file>
    <size>5</size>
    <lastmodificationdate>2020-01-15T13:00:00Z</lastmodificationdate>
    <xxhash64be>0ea03b369a463d9d</xxhash64be>
    <hashdate>2020-01-16T09:15:00Z</hashdate>
  </hash>
  <hash>
    <file>Sidecar.txt</file>
    <size> 58 </size>
    <lastmodificationdate>2020-01-15T13:00:00</lastmodificationdate>
    <md5>d41d8cd98f00b204e9800998ecf8427e</md5>
  </hash>
</hashlist>`;

  test('paths begin at its own folder; a time without a zone is not known', async () => {
    expect(await readWritten(OLDER, 'Day 3/A002R2EC/A002R2EC.mhl')).toEqual({
      ok: true,
      base: 'Day 3/A002R2EC',
      files: [LISTED[0], LISTED[2]],
      gap: null,
    });
  });

  test('paths parted by backslashes', async () => {
    const read = await readWritten(OLDER.replace('Clips/', 'Clips\\'));
    expect(read).toMatchObject({ ok: true, files: [{ path: 'Clips/A002C006_141024_R2EC.mov' }, {}] });
  });
});

describe('what is no list of files, or not a whole one', () => {
  test.each<[string, string, string, RegExp]>([
    ['cut in the middle', ASC.slice(0, 1500), 'damaged', /^It ends in the middle \(line \d+, column \d+\)\.$/],
    ['cut inside a tag', ASC.slice(0, ASC.indexOf('lastmod') + 3), 'damaged', /^It ends in the middle/],
    ['without its last tag', ASC.replace('</hashlist>', ''), 'damaged', /^It ends in the middle/],
    ['text and no more', '<?xml version="1.0"?>', 'not-a-manifest', /no hash list/],
    ['another XML', '<clip><path>a</path></clip>', 'not-a-manifest', /XML, but no hash list \(line 1,/],
    ['a version to come', '<hashlist version="3.0"/>', 'not-a-manifest', /unknown version "3\.0"/],
    ['no version', '<hashlist/>', 'not-a-manifest', /unknown version ""/],
    [
      'an entry without a name',
      '<hashlist version="1.1"><hash><size>1</size></hash></hashlist>',
      'damaged',
      /names no file/,
    ],
    ['tags that do not close', '<hashlist version="1.1"><hash></file></hashlist>', 'damaged', /line 1/],
    ['an unknown entity', '<hashlist version="1.1"><hash><file>&x;</file></hash></hashlist>', 'damaged', /entity/],
    ['bytes that are no UTF-8', '<hashlist version="1.1">', 'damaged', /encoding/],
  ])('%s', async (name, text, reason, detail) => {
    const content = name.startsWith('bytes') ? Buffer.concat([Buffer.from(text), Buffer.from([0xff, 0x80])]) : text;
    const read = await readWritten(content);
    expect(read).toMatchObject({ ok: false, reason });
    expect(read.ok ? '' : read.detail).toMatch(detail);
  });

  test('sizes that are none are not known', async () => {
    const hash = (size: string) => `<hash><path size="${size}">${size || 'empty'}.mov</path></hash>`;
    const sizes = ['', '-5', '1e3', '0x10', '12.5', '99999999999999999999', '7'];
    const read = await readWritten(`<hashlist version="2.0"><hashes>${sizes.map(hash).join('')}</hashes></hashlist>`);
    expect(read.ok && read.files.map(({ size }) => size)).toEqual([null, null, null, null, null, null, 7]);
  });
});
