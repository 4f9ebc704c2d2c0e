import { copyFileSync, cpSync, mkdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { playlist } from '../core/intake/playlist-bytes.ts';
import { encode } from '../outside/tools.ts';
import { type Bench, bench, type ClipJson, media, type Running, until } from './headroomd.ts';

/**
 * One take is one clip, whatever it lies in: the real program on real encodes, put where cameras put theirs. Names and layouts
 * as in core/intake/take-name.ts and card-layout.ts, with their sources there.
 */
let place: Bench;
let footage: string;

beforeEach(() => {
  place = bench();
  footage = join(place.volume, 'Saltmarsh', 'Footage');
  mkdirSync(footage, { recursive: true });
});
afterEach(() => place.clear());

/** Puts a fixture under another name; its size. */
function put(fixture: string, path: string): number {
  const to = join(footage, path);
  mkdirSync(dirname(to), { recursive: true });
  copyFileSync(join(media, fixture), to);
  return statSync(to).size;
}

function mkdirs(path: string): string {
  const folder = join(footage, path);
  mkdirSync(folder, { recursive: true });
  return folder;
}

function write(path: string, content: string): number {
  mkdirSync(dirname(join(footage, path)), { recursive: true });
  writeFileSync(join(footage, path), content);
  return Buffer.byteLength(content);
}

async function clipsOnce(daemon: Running, holds: (clips: ClipJson[]) => boolean): Promise<ClipJson[]> {
  let clips: ClipJson[] = [];
  await until('the clips are as expected', () => {
    clips = daemon.clips();
    return holds(clips) && daemon.status().arrivals.every(({ state }) => state === 'ready');
  });
  return clips;
}

const names = (clips: readonly ClipJson[]) => clips.map(({ name }) => name).sort();

describe('chapters of an action camera', () => {
  test('are one clip as long as all, with their small pictures; one that is missing is named, and found when it comes', async () => {
    const one = put('H007_0003.MP4', 'GX010123.MP4');
    const daemon = await place.start();
    const [alone] = await clipsOnce(daemon, (clips) => clips.length === 1);
    const third = put('H007_0003.MP4', 'GX030123.MP4');
    const small = put('lock-keepers_review.mp4', 'GL010123.LRV');
    const thumbnail = write('GX010123.THM', 'not looked at');
    const [gap] = await clipsOnce(daemon, ([first]) => first?.fileCount === 4);
    expect(gap).toMatchObject({
      ...{ name: 'GX010123.MP4', parts: 'spans', groupedBy: 'chapter-number', essenceCount: 2, kind: 'original' },
      missingParts: [{ first: 2, last: 2 }],
      bytes: one + third + small + thumbnail,
      durationSeconds: 2 * (alone?.durationSeconds ?? 0),
      frames: 2 * (alone?.frames ?? 0),
      videoBytes: 2 * (alone?.videoBytes ?? 0),
      width: alone?.width,
    });
    expect(place.call('clips').stdout).toContain('parts missing: 2. Copy them again from the card; keep the card.');
    const notice = () => daemon.status().advisories.find(({ kind }) => kind === 'take-incomplete');
    await until('the gap is told', () => notice() !== undefined, 60);
    expect(notice()?.message).toContain('is not complete: GX010123.MP4 (parts missing: 2).');
    put('H007_0003.MP4', 'GX020123.MP4');
    const [whole] = await clipsOnce(daemon, ([first]) => first?.fileCount === 5);
    expect(whole).toMatchObject({
      missingParts: [],
      essenceCount: 3,
      durationSeconds: 3 * (alone?.durationSeconds ?? 0),
    });
    expect(daemon.status().projects[0]).toMatchObject({ clips: 1, bytes: one * 3 + small + thumbnail });
    expect(await daemon.end()).toBe(0);
  });

  test('survive a move of their folder, and nothing is read again', async () => {
    for (const chapter of ['GX010124', 'GX020124']) put('H007_0003.MP4', `Card 1/${chapter}.MP4`);
    const daemon = await place.start([place.volume], {});
    const [before] = await clipsOnce(daemon, ([first]) => first?.essenceCount === 2);
    renameSync(join(footage, 'Card 1'), join(footage, 'Card 2'));
    const [after] = await clipsOnce(daemon, ([first]) => first?.paths[0]?.includes('Card 2') ?? false);
    const moved = before?.paths.map((path) => path.replace('Card 1', 'Card 2'));
    expect(after).toEqual({ ...before, paths: moved });
  });
});

describe('card layouts', () => {
  test('picture, sound, list, thumbnail and small picture of one card clip are one clip', async () => {
    const bytes = [
      put('B001C001_270211.mxf', 'CONTENTS/VIDEO/0001AB.MXF'),
      put('SM12-T003.WAV', 'CONTENTS/VOICE/0001AB00.WAV'),
      put('lock-keepers_review.mp4', 'CONTENTS/PROXY/0001AB.MP4'),
      write('CONTENTS/CLIP/0001AB.XML', '<P2Main/>'),
      write('CONTENTS/ICON/0001AB.BMP', 'BM'),
    ];
    const daemon = await place.start();
    const [clip, ...others] = await clipsOnce(daemon, ([first]) => first?.fileCount === 5);
    expect(others).toEqual([]);
    expect(clip).toMatchObject({
      name: '0001AB.MXF',
      kind: 'original',
      bytes: bytes.reduce((sum, each) => sum + each),
    });
    expect(clip?.essenceCount).toBe(1);
    expect(daemon.status().projects[0]).toMatchObject({ clips: 1 });
  });

  test('raw that no reader knows counts, says so, and its parts are one clip', async () => {
    // The format keeps itself to itself; its box names are common knowledge, the rest here is noise.
    const raw = (length: number) => `\0\0\0\x44RED2${'x'.repeat(length)}`;
    const folder = 'A004_C001_1223XX.RDC';
    const bytes = ['001', '002'].map((part) => write(`${folder}/A004_C001_1223XX_${part}.R3D`, raw(90_000)));
    const daemon = await place.start();
    const [clip, ...others] = await clipsOnce(daemon, ([first]) => first?.fileCount === 2);
    expect(others).toEqual([]);
    expect(clip).toMatchObject({ state: 'not-decoded', parts: 'spans', durationSeconds: null, codec: null });
    expect(clip?.bytes).toBe(bytes.reduce((sum, each) => sum + each));
    const { projects } = daemon.status();
    expect(projects[0]).toMatchObject({ footageBytes: clip?.bytes, safety: { exposedBytes: clip?.bytes } });
    expect(place.call('clips').stdout).toContain('not decoded');
  });
});

test('kinds come from folders that the configuration names, before what the folders are called', async () => {
  put('tidewater-a.mov', '../Exports/tidewater-a.mov');
  put('tidewater-b.mov', '../Small/tidewater-b.mov');
  const config = join(place.folder, 'headroomd.toml');
  writeFileSync(
    config,
    `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nkinds = { original = ["Exports"], proxy = ["Small"] }\n`,
  );
  const daemon = await place.start(['--config', config]);
  const clips = await clipsOnce(daemon, ({ length }) => length === 2);
  expect(Object.fromEntries(clips.map(({ name, kind }) => [name, kind]))).toEqual({
    'tidewater-a.mov': 'original',
    'tidewater-b.mov': 'proxy',
  });
  expect(await daemon.end()).toBe(0);
});

test('what the container and the reader tell is kept apart from what they agree on', async () => {
  put('IMG_0217.MOV', 'IMG_0217.MOV');
  const daemon = await place.start();
  const [clip] = await clipsOnce(daemon, ({ length }) => length === 1);
  expect(clip).toMatchObject({ variableRate: true });
  expect(clip?.sources).toMatchObject({ width: 'both', profile: 'reader', videoBitrate: 'derived' });
  expect(names([clip as ClipJson])).toEqual(['IMG_0217.MOV']);
});

test('a take whose part is taken away is read again as what is left', async () => {
  for (const chapter of ['GX010125', 'GX020125']) put('H007_0003.MP4', `${chapter}.MP4`);
  const daemon = await place.start();
  const [both] = await clipsOnce(daemon, ([first]) => first?.essenceCount === 2);
  rmSync(join(footage, 'GX020125.MP4'));
  const [left] = await clipsOnce(daemon, ([first]) => first?.essenceCount === 1);
  expect(left?.durationSeconds).toBe((both?.durationSeconds ?? 0) / 2);
  cpSync(join(media, 'H007_0003.MP4'), join(footage, 'GX020125.MP4'));
  await clipsOnce(daemon, ([first]) => first?.durationSeconds === both?.durationSeconds);
});

describe('what files carry joins them where names do not', () => {
  const ixml = (family: string, index: number) =>
    `<?xml version="1.0"?><BWFXML><SCENE>12</SCENE><TAKE>3</TAKE><FILE_SET><TOTAL_FILES>2</TOTAL_FILES><FAMILY_UID>${family}</FAMILY_UID><FILE_SET_INDEX>${index}</FILE_SET_INDEX></FILE_SET></BWFXML>`;

  /** A fixture of a sound recorder with notes behind it: another chunk, and the length of the whole. */
  function putSound(path: string, notes: string): number {
    const whole = readFileSync(join(media, 'SM12-T003.WAV'));
    const text = Buffer.from(notes.length % 2 === 0 ? notes : `${notes} `);
    const head = Buffer.alloc(8);
    head.write('iXML', 0, 'latin1');
    head.writeUInt32LE(text.length, 4);
    const all = Buffer.concat([whole, head, text]);
    all.writeUInt32LE(all.length - 8, 4);
    mkdirSync(dirname(join(footage, path)), { recursive: true });
    writeFileSync(join(footage, path), all);
    return all.length;
  }

  test('files that a recorder wrote at once are one clip, also after a move and a restart', async () => {
    const bytes = putSound('Sound/BOOM.WAV', ixml('f1', 1)) + putSound('Sound/LAV.WAV', ixml('f1', 2));
    const daemon = await place.start();
    const [take] = await clipsOnce(daemon, (clips) => clips.length === 1 && clips[0]?.essenceCount === 2);
    expect(take).toMatchObject({ parts: 'tracks', groupedBy: 'one-sound-family', bytes, kind: 'sound' });
    expect(daemon.status().projects[0]).toMatchObject({ clips: 1, bytes, safety: { exposedClips: 1 } });
    expect(place.call('clips').stdout).toContain('2 files recorded at once: the recorder wrote them at once');
    renameSync(join(footage, 'Sound'), join(footage, 'Recorder'));
    await clipsOnce(
      daemon,
      ([first]) => first?.essenceCount === 2 && first.paths.every((path) => path.includes('Recorder')),
    );
    expect(await daemon.end()).toBe(0);
    const again = await place.start();
    const [still, ...others] = await clipsOnce(again, ({ length }) => length > 0);
    expect([still?.essenceCount, others]).toEqual([2, []]);
  });
});

describe('lists of the card', () => {
  const clip = (id: string, offset: number, link: string) =>
    `<?xml version="1.0"?><P2Main><ClipContent><GlobalClipID>${id}</GlobalClipID><Relation><OffsetInShot>${offset}</OffsetInShot><Connection><Top><GlobalClipID>id-1</GlobalClipID></Top>${link}</Connection></Relation></ClipContent></P2Main>`;
  const linkTo = (which: 'Next' | 'Previous', id: string) => `<${which}><GlobalClipID>${id}</GlobalClipID></${which}>`;

  test('streams that a playlist joins are one clip; without the list, and after it, they are two', async () => {
    for (const stream of ['00000', '00001'])
      encode(
        { width: 320, height: 180, rate: { num: 25, den: 1 }, frames: 25 },
        ['-c:v', 'libx264', '-preset', 'ultrafast', '-f', 'mpegts'],
        join(mkdirs(`Card 1/PRIVATE/AVCHD/BDMV/STREAM`), `${stream}.MTS`),
      );
    const daemon = await place.start();
    await clipsOnce(daemon, ({ length }) => length === 2);
    const list = playlist([
      { name: '00000M2TS', item: [1] },
      { name: '00001M2TS', item: [6] },
    ]);
    writeFileSync(join(mkdirs('Card 1/PRIVATE/AVCHD/BDMV/PLAYLIST'), '00000.MPL'), list);
    const [take, ...others] = await clipsOnce(daemon, ({ length }) => length === 1);
    expect(others).toEqual([]);
    expect(take).toMatchObject({ parts: 'spans', groupedBy: 'playlist-continuation', essenceCount: 2, codec: 'H.264' });
    expect(take?.durationSeconds).toBeCloseTo(2, 1);
    renameSync(join(footage, 'Card 1'), join(footage, 'Card 2'));
    await clipsOnce(
      daemon,
      ([first]) => first?.essenceCount === 2 && first.paths.every((path) => path.includes('Card 2')),
    );
  });

  test('clips that a card names as one recording are one clip; a part that is missing is named', async () => {
    put('B001C001_270211.mxf', 'CONTENTS/VIDEO/0001AB.MXF');
    put('B001C001_270211.mxf', 'CONTENTS/VIDEO/0002CD.MXF');
    write('CONTENTS/CLIP/0001AB.XML', clip('id-1', 0, linkTo('Next', 'id-2')));
    write('CONTENTS/CLIP/0002CD.XML', clip('id-2', 10, linkTo('Previous', 'id-1') + linkTo('Next', 'id-3')));
    const daemon = await place.start();
    const [take] = await clipsOnce(daemon, (clips) => clips.length === 1 && clips[0]?.essenceCount === 2);
    expect(take).toMatchObject({ groupedBy: 'card-relation', name: '0001AB.MXF', missingNames: ['id-3'] });
    expect(place.call('clips').stdout).toContain('parts missing: id-3.');
  });
});

test('a proxy is replaceable while its source is here, and counts as exposed when that is gone', async () => {
  const original = put('tidewater-a.mov', 'Day 1/tidewater-a.mov');
  const small = put('tidewater-a.mov', '../Proxies/tidewater-a.mov');
  const daemon = await place.start();
  const exposed = () => daemon.status().projects[0];
  await clipsOnce(daemon, ({ length }) => length === 2);
  await until('its source is found', () => exposed()?.made.replaceableBytes === small);
  expect(exposed()).toMatchObject({ clips: 1, byKind: { original, proxy: small }, safety: { exposedBytes: original } });
  expect(place.call('status').stdout.replace(/\s+/g, ' ')).toContain(
    'of proxies and renders can be made again from footage',
  );
  rmSync(join(footage, 'Day 1/tidewater-a.mov'));
  await until(
    'it is exposed',
    () => exposed()?.safety.exposedBytes === small && exposed()?.made.replaceableBytes === 0,
  );
});

test('a take that lies in two card folders is told as there twice, and not as a copy', async () => {
  const bytes = put('A004C002_270211.mov', 'Card 1/A004C002_270211.mov');
  put('A004C002_270211.mov', 'Card 2/A004C002_270211.mov');
  const daemon = await place.start();
  await clipsOnce(daemon, ({ length }) => length === 2);
  await until('it is told', () => daemon.status().projects[0]?.twice?.takes === 1);
  const [project] = daemon.status().projects;
  expect(project).toMatchObject({
    twice: { takes: 1, bytes, sameSize: 1 },
    safety: { exposedClips: 2, exposedBytes: 2 * bytes },
  });
});
