import type { PathText } from '../model.ts';
import { cardTakeOf, type TakeName } from './card-layout.ts';
import { PICTURE, PROXY, SIDECAR, SOUND } from './extensions.ts';
import { dirName, extension, stem } from './path-text.ts';

/**
 * Chapters of an action camera: two letters, chapter, file number. GH010123, GH020123 are one recording; older: GOPR0123,
 * GP010123, GP020123; 360 degrees: GS. GL010123.LRV is the small picture of GH010123 or GX010123. Source: the maker's table
 * of names and its open API tests.
 */
const CHAPTER = /^g([hxpsl])(\d\d)(\d{4})$/i;
const FIRST_CHAPTER = /^gopr(\d{4})$/i;
const CHAPTER_EXTENSIONS = new Set(['mp4', 'lrv', '360', 'wav']);

/**
 * Two lenses in two files: VID_20260110_121609_00_657.insv and .._10_657.insv, and LRV_20260110_121609_11_657.insv is the
 * small picture of both. First digit: lens. Source: a page of the cameras' users.
 */
const LENS = /^(?:vid|lrv)_(\d{8}_\d{6})_([01])[01]_(\d{3})$/i;
const LENS_EXTENSIONS = new Set(['insv', 'lrv', 'mp4']);

/**
 * Tracks of a sound recorder, one file each: Scene001-T001_Tr1.wav, _Tr1_2 (a pair), _Tr1_D (the second, lower level),
 * _TrL_R (the mix). Source: recorders' manuals.
 */
const TRACK = /^(.+)_tr(?:(\d{1,2})(?:_\d{1,2})?(_d)?|l_?r)$/is;
const MIX = 1000;

/**
 * Sidecars of file-based camcorder cards: C0001M01.XML, C0001R01.BIM, C0001I01.PPN, C0001C01.SMI beside C0001.MXF (also
 * 709_001_01M01.XML beside 709_001_01.MP4). Source: XMP Toolkit SDK, XDCAM and XDCAM EX handlers.
 */
const NUMBERED_SIDECAR = /^(.*\d)[MRIC]\d\d$/i;
const NUMBERED_SIDECAR_EXTENSIONS = new Set(['xml', 'klv', 'bim', 'ppn', 'smi']);

/** Extensions that may stand before a sidecar's own: `A001.mov.xmp`, `A001.mov.md5`. */
const INNER_EXTENSION = /^(.+)\.(?:mov|mp4|m4v|mxf|mts|m2ts|avi|mkv|r3d|braw|arx|crm|wav|dv|insv|360)$/is;

/** A camera's small picture has the name of the large one and this behind it. Source: a cinema camera's manual. */
const PROXY_NAME = /^(.+)[_-]proxy$/is;

/**
 * The take that a file is of, as its path alone tells it: what else has arrived changes nothing. Names that may mean one
 * thing or another (A101_1.WAV: a track, or a take by itself) are not taken apart.
 */
export function takeOf(path: PathText): TakeName {
  const inner = INNER_EXTENSION.test(stem(path)) && SIDECAR.has(extension(path));
  const named = inner ? path.slice(0, path.lastIndexOf('.')) : path;
  return cardTakeOf(named) ?? chapterOf(named) ?? lensOf(named) ?? trackOf(named) ?? plain(named);
}

/** Whether the name or the place on a card says that a camera wrote it as the small picture of another file. */
export function isCameraProxy(path: PathText): boolean {
  const take = takeOf(path);
  return take.by !== 'same-stem' || take.stem !== stem(path) || /^lr[vf]$/.test(extension(path));
}

/** What the essence of a file is by its name and its place on a card (P2: AUDIO/0001AB00.MXF is sound); `null`: none. */
export function essenceOf(path: PathText, take = takeOf(path)): 'picture' | 'sound' | null {
  const ext = extension(path);
  if (take.sound || SOUND.has(ext)) return 'sound';
  return PICTURE.has(ext) || PROXY.has(ext) ? 'picture' : null;
}

function chapterOf(path: PathText): TakeName | null {
  if (!CHAPTER_EXTENSIONS.has(extension(path)) && !SIDECAR.has(extension(path))) return null;
  const base = stem(path);
  const [, first] = FIRST_CHAPTER.exec(base) ?? [];
  if (first !== undefined) return chapter(path, first, 'p', 1);
  const [, family = '', number, file = ''] = CHAPTER.exec(base) ?? [];
  if (number === undefined) return null;
  const isOld = family.toLowerCase() === 'p';
  return number === '00' ? null : chapter(path, file, family.toLowerCase(), Number(number) + (isOld ? 1 : 0));
}

function chapter(path: PathText, file: string, recording: string, part: number): TakeName {
  const by = 'chapter-number';
  return { dir: dirName(path), stem: `g*${file}`, recording, part, relation: 'spans', sound: false, by };
}

function lensOf(path: PathText): TakeName | null {
  if (!LENS_EXTENSIONS.has(extension(path)) && !SIDECAR.has(extension(path))) return null;
  const [, at, lens, serial] = LENS.exec(stem(path)) ?? [];
  if (lens === undefined) return null;
  const shared = { dir: dirName(path), stem: `vid_${at}_*_${serial}`, recording: '', sound: false };
  return { ...shared, part: Number(lens) + 1, relation: 'lenses', by: 'lens-number' };
}

function trackOf(path: PathText): TakeName | null {
  if (!SOUND.has(extension(path))) return null;
  const match = TRACK.exec(stem(path));
  if (match === null) return null;
  const [, take = '', track, lower] = match;
  const part = track === undefined ? MIX : Number(track) * 2 + (lower === undefined ? 0 : 1);
  const shared = { dir: dirName(path), stem: take, recording: '', sound: false };
  return { ...shared, part, relation: 'tracks', by: 'track-number' };
}

function plain(path: PathText): TakeName {
  const base = stem(path);
  const numbered = NUMBERED_SIDECAR_EXTENSIONS.has(extension(path)) ? NUMBERED_SIDECAR.exec(base)?.[1] : undefined;
  const large = SOUND.has(extension(path)) ? undefined : PROXY_NAME.exec(base)?.[1];
  const shared = { dir: dirName(path), recording: '', part: null, relation: null, sound: false } as const;
  return { ...shared, stem: numbered ?? large ?? INNER_EXTENSION.exec(base)?.[1] ?? base, by: 'same-stem' };
}
