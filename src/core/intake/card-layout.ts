import type { PathText } from '../model.ts';
import { baseName, dirName, extension, joinPath, stem } from './path-text.ts';

/** `recording` of raw picture, beside which a camera may write the same take in another codec. */
export const RAW = 'raw';

/** What a file's path alone tells of the take that it is of. */
export interface TakeName {
  /** Folder and stem that all files of the take share. */
  dir: PathText;
  stem: string;
  /** Tells recordings of one unit apart: files of the same one have the same. Empty where nothing tells. */
  recording: string;
  /** Place among the files of the recording, from 1; `null`: the name has no number. */
  part: number | null;
  /** How files of one recording relate; `null`: a file is a recording by itself. */
  relation: 'spans' | 'lenses' | 'tracks' | null;
  /** Separate sound, although the extension says picture. */
  sound: boolean;
  /** What in the path decided. */
  by: 'card-layout' | 'span-number' | 'chapter-number' | 'lens-number' | 'track-number' | 'same-stem';
}

type Rule = (path: PathText) => TakeName | null;

/**
 * P2 card: VIDEO/0001AB.MXF, AUDIO/0001AB00.MXF .. (two more digits are the channel), CLIP/0001AB.XML, ICON/0001AB.BMP,
 * PROXY/0001AB.MP4, VOICE/0001AB00.WAV belong to clip 0001AB; names compare without case. Source: the XMP Toolkit SDK's
 * P2 handler and the maker's manuals.
 */
const P2 = /^(?:(.*)\/)?contents\/(clip|video|audio|icon|proxy|voice|avclip)\/([0-9a-z]{6})(\d\d)?\.([0-9a-z]+)$/is;

/** AVCHD: STREAM/00000.MTS and CLIPINF/00000.CPI. The playlist's numbers are its own. Source: XMP Toolkit SDK, AVCHD handler. */
const AVCHD = /^((?:.*\/)?bdmv)\/(?:stream|clipinf)\/(\d{5})\.(?:mts|m2ts|cpi|clpi)$/is;

/**
 * XDCAM, one folder per clip ("SAM"): CLPR/C0001/ with C0001V01.MXF (picture), C0001A01.MXF .. (sound), C0001S01.MXF
 * (proxy), C0001M01.XML, C0001R01.BIM, C0001I01.PPN, C0001C01.SMI. Source: XMP Toolkit SDK, XDCAM handler.
 */
const XDCAM_CLIP_FOLDER = /^((?:.*\/)?proav\/clpr\/([^/]+))\/\2([a-z])\d\d\.[^./]+$/is;

/**
 * XDCAM EX: CLPR/709_001_01/709_001_01.MP4, and 709_001_02 goes on with the same recording; TAKR/709_001 describes it as a
 * whole. Source: XMP Toolkit SDK, XDCAM EX handler.
 */
const XDCAM_EX_CLIP = /^((?:.*\/)?bpav)\/clpr\/([^/]+_\d{3,4})_(\d\d)\/\2_\3(?:[a-z]\d\d)?\.[^./]+$/is;
const XDCAM_EX_TAKE = /^((?:.*\/)?bpav)\/takr\/([^/]+_\d{3,4})\/\2(?:[a-z]\d\d)?\.[^./]+$/is;

/**
 * XDCAM, all clips in one folder ("FAM"): the small picture Sub/C0001S01.MXF is of Clip/C0001.MXF; names may be the user's.
 * Source: XMP Toolkit SDK, XDCAM handler; recorders' manuals. The thumbnail THMBNL/C0001T01.JPG: from memory.
 */
const XDCAM_SUB = /^((?:.*\/)?)sub\/([^/]+)s\d\d(?:m\d\d)?\.(?:mxf|mp4|mov|xml)$/is;
const XDCAM_THUMBNAIL = /^((?:.*\/)?)thmbnl\/([^/]+)t\d\d\.jpe?g$/is;

/**
 * HDV card: VIDEO/HVR/00_0001_2007-08-06_165555.M2T and its .IDX; all files of clip 00_0001 follow one another. Source: XMP
 * Toolkit SDK, HDV handler.
 */
const HDV = /^((?:.*\/)?video\/hvr)\/(\d\d_\d{4})_\d{4}-\d\d-\d\d_\d{6}\.(?:m2t|dv|avi|idx)$/is;

/**
 * Cinema raw: A004_C001_1223XX.RDC/A004_C001_1223XX_001.R3D, _002.R3D, ...; the media are FAT32, so every codec is split. In
 * the same folder: .mov, _V.mxf and _A.mxf recordings of the take, .rtn thumbnail, .RMD look. Source: the maker's guides.
 */
const RAW_FOLDER = /^((?:.*\/)?([^/]+)\.rdc)\/\2(?:_(\d{3}))?(?:_([va]))?\.([^./]+)$/is;
const RAW_CLIP = /^([a-z]\d{3}_[a-z]\d{3}_\d{4}[0-9a-z]{2})(?:_(\d{3}))?(?:_([va]))?$/i;
const RAW_FILE = /^(.+)_(\d{3})$/s;

/** Folders that the rules below look for: most paths of a volume have none of them. */
const CARD_FOLDER = /(?:contents|bdmv|proav|bpav|sub|thmbnl|hvr|\.rdc)\//i;
const FOLDER_RULES: readonly Rule[] = [p2, avchd, xdcamClipFolder, xdcamEx, xdcamClips, hdv, rawFolder];

/** The take of a file on a card whose layout tells it. Pure on one path; `null`: the path shows no layout known here. */
export function cardTakeOf(path: PathText): TakeName | null {
  if (CARD_FOLDER.test(path)) {
    for (const rule of FOLDER_RULES) {
      const found = rule(path);
      if (found !== null) return found;
    }
  }
  return rawFile(path);
}

/** Whether a file is a spoken note to a clip of a card (P2: VOICE/0001AB00.WAV), not its sound. */
export function isCardNote(path: PathText): boolean {
  return P2.exec(path)?.[2]?.toLowerCase() === 'voice';
}

function p2(path: PathText): TakeName | null {
  const match = P2.exec(path);
  if (match === null) return null;
  const [, above = '', folder = '', clip = ''] = match;
  return onCard(joinPath(above, 'CONTENTS'), clip, { sound: folder.toLowerCase() === 'audio' });
}

function avchd(path: PathText): TakeName | null {
  const match = AVCHD.exec(path);
  return match === null ? null : onCard(match[1] ?? '', match[2] ?? '');
}

function xdcamClipFolder(path: PathText): TakeName | null {
  const match = XDCAM_CLIP_FOLDER.exec(path);
  if (match === null) return null;
  return onCard(match[1] ?? '', match[2] ?? '', { sound: match[3]?.toLowerCase() === 'a' });
}

function xdcamEx(path: PathText): TakeName | null {
  const clip = XDCAM_EX_CLIP.exec(path);
  const match = clip ?? XDCAM_EX_TAKE.exec(path);
  if (match === null) return null;
  const part = clip === null ? null : Number(clip[3]);
  return onCard(`${match[1]}/CLPR`, match[2] ?? '', { part, relation: 'spans', by: 'span-number' });
}

/** The clips' folder is written in the case of the folder that is seen: `Sub` goes with `Clip`, `SUB` with `CLIP`. */
function xdcamClips(path: PathText): TakeName | null {
  const match = XDCAM_SUB.exec(path) ?? XDCAM_THUMBNAIL.exec(path);
  if (match === null) return null;
  const seen = baseName(dirName(path));
  const folder = seen === seen.toUpperCase() ? 'CLIP' : seen === seen.toLowerCase() ? 'clip' : 'Clip';
  return onCard(`${match[1]}${folder}`, match[2] ?? '');
}

function hdv(path: PathText): TakeName | null {
  const match = HDV.exec(path);
  return match === null ? null : onCard(match[1] ?? '', match[2] ?? '', { relation: 'spans', by: 'span-number' });
}

function rawFolder(path: PathText): TakeName | null {
  const match = RAW_FOLDER.exec(path);
  return match === null ? null : rawSpan(path, match[1] ?? '', match.slice(2));
}

/** Copied without its folder. That it is raw, or the whole of the maker's name, tells that the last number is the part's. */
function rawFile(path: PathText): TakeName | null {
  const base = stem(path);
  const match = RAW_CLIP.exec(base) ?? (extension(path) === 'r3d' ? RAW_FILE.exec(base) : null);
  return match === null ? null : rawSpan(path, dirName(path), match.slice(1));
}

function rawSpan(path: PathText, dir: PathText, [clip = '', part, track]: (string | undefined)[]): TakeName {
  const ext = extension(path);
  return onCard(dir, clip, {
    // Of what was recorded beside raw, each codec is a recording; sound in a file of its own is that of the raw picture.
    recording: ext === 'r3d' || ext === 'wav' ? RAW : ext,
    part: part === undefined ? null : Number(part),
    relation: 'spans',
    sound: track?.toLowerCase() === 'a' && ext === 'mxf',
    by: 'span-number',
  });
}

function onCard(dir: PathText, clip: string, more: Partial<TakeName> = {}): TakeName {
  return { dir, stem: clip, recording: '', part: null, relation: null, sound: false, by: 'card-layout', ...more };
}
