import { PICTURE, SOUND } from '../intake/extensions.ts';
import { baseName, dirName, extension, stem } from '../intake/path-text.ts';
import { systemName } from '../intake/system-names.ts';
import type { PathText } from '../model.ts';

/** One name on a file system, relative to its root. */
export interface CardEntry {
  path: PathText;
  dir: boolean;
}

/** What a card was recognised by. */
export interface CardSigns {
  /** As the trade names it: "P2", "AVCHD", "DCIM". */
  layout: string;
  /** In words: "CONTENTS/CLIP, CONTENTS/VIDEO". Holds names as they are: escape before showing. */
  evidence: string;
}

/** A copied card on a volume: the folder that was the card's root (of a reel folder: that folder), and its layout. */
export interface CopiedCard {
  root: PathText;
  layout: string;
}

interface Layout {
  layout: string;
  /** Each must be there, from the root of the card. Folders end in a slash here; all is lower-case. */
  needs: readonly RegExp[];
  /** A file of such a card wherever the card was copied to; the group is the folder that was its root. */
  copy: RegExp;
}

/** Layouts with folder names of their own, the more telling first: many cards carry a DCIM beside their film. */
const LAYOUTS: readonly Layout[] = [
  // XMP Toolkit SDK, P2 handler; the maker's manuals (AVCLIP: the small cards).
  {
    layout: 'P2',
    needs: [/^contents\/clip\/$/, /^contents\/(?:video|audio|avclip)\/$/],
    copy: /^(?:(.*?)\/)?contents\/(?:clip|video|audio|icon|proxy|voice|avclip)\/[0-9a-z]{6}(?:\d\d)?\.[0-9a-z]+$/is,
  },
  // XMP Toolkit SDK, its handler of this card (from memory).
  {
    layout: 'XF (CONTENTS/CLIPS)',
    needs: [/^contents\/clips\d{3}\/$/],
    copy: /^(?:(.*?)\/)?contents\/clips\d{3}\/.+$/is,
  },
  // XMP Toolkit SDK, XDCAM EX handler.
  { layout: 'XDCAM EX', needs: [/^bpav\/clpr\/$/], copy: /^(?:(.*?)\/)?bpav\/(?:clpr|takr)\/.+$/is },
  // XMP Toolkit SDK, XDCAM handler, "SAM".
  { layout: 'XDCAM (PROAV)', needs: [/^proav\/clpr\/$/], copy: /^(?:(.*?)\/)?proav\/(?:clpr|edtr)\/.+$/is },
  // The same as "FAM" on memory cards: from memory.
  { layout: 'XDCAM (XDROOT)', needs: [/^xdroot\/clip\/$/], copy: /^(?:(.*?)\/)?xdroot\/(?:clip|sub|edit|take)\/.+$/is },
  // From memory.
  {
    layout: 'XAVC (M4ROOT)',
    needs: [/^(?:private\/)?m4root\/clip\/$/],
    copy: /^(?:(.*?)\/)?(?:private\/)?m4root\/(?:clip|sub|take|edit|thmbnl)\/.+$/is,
  },
  // XMP Toolkit SDK, XDCAM handler, "FAM"; disc recorders' manuals.
  {
    layout: 'XDCAM',
    needs: [/^clip\/$/, /^(?:index|discmeta|mediapro|cueup)\.xml$/],
    copy: /^(?:(.*?)\/)?clip\/[a-z]\d{4}(?:m\d\d)?\.(?:mxf|mp4|xml)$/is,
  },
  // XMP Toolkit SDK, AVCHD handler.
  {
    layout: 'AVCHD',
    needs: [/^(?:bdmv\/stream|avchd\/bdmv|private\/avchd\/bdmv)\/$/],
    copy: /^(?:(.*?)\/)?(?:private\/)?(?:avchd\/)?bdmv\/(?:stream|clipinf|playlist)\/.+$/is,
  },
  // XMP Toolkit SDK, HDV handler.
  { layout: 'HDV', needs: [/^video\/hvr\/$/], copy: /^(?:(.*?)\/)?video\/hvr\/.+$/is },
  // Published guides of the maker: magazine folders with one folder per clip.
  { layout: 'R3D', needs: [/^[^/]+\.rd[mc]\/$/], copy: /^(?:(.*?)\/)?[^/]+\.rdm\/.+$/is },
  // JEITA CP-3461 (DCF): three digits from 100 and five free characters. DJI_001, CAMERA01: from memory.
  {
    layout: 'DCIM',
    needs: [/^dcim\/(?:[1-9]\d\d[0-9a-z_]{5}|dji_\d{3}\w*|camera\d\d)\/$/],
    copy: /^(?:(.*?)\/)?dcim\/(?:[1-9]\d\d[0-9a-z_]{5}|dji_\d{3}\w*|camera\d\d)\/.+$/is,
  },
];

/** Folders that cameras and recorders make at a card's root, besides those above. From memory. */
const CARD_FOLDERS = new Set(
  (
    'dcim misc private avf_info mp_root m4root avchd bdmv canonmsc lost.dir mssony bpav proav xdroot contents clip sub ' +
    'edit take general userdata thmbnl video audio sd_video sd_audio im_root database gps control settings lut luts ' +
    'firmware crm setup eos_digital'
  ).split(' '),
);

/** Folders of a computer's own disk. */
const COMPUTER_FOLDERS = /^(?:etc|usr|bin|home|var|proc|users|windows|program files|applications|library|system)$/;

/** More folders at the root that no camera makes: this is a disk on which somebody keeps things. */
const MOST_FOREIGN = 1;

/** Camera letter, reel, clip: A004C010_.., A004_C001_.., A001_08151234_C001... Camera manuals; common practice. */
const REEL_CLIP = /^([a-z]\d{3})(?:r[0-9a-z]{3})?_?(?:\d{8}_)?c\d{3}(?![0-9])/i;
const REEL_FOLDER = /^[a-z]\d{3}(?![0-9])[0-9a-z_]*$/i;
const MOST_REELS = 2;

/**
 * Names that sound recorders give: Scene001-T001.wav, ..._Tr1, 210101_002_Tr1, ZOOM0001, A101_1. Recorders' manuals; the
 * plain number: from memory.
 */
const TAKE_NAME =
  /(?:(?:^|[-_])t\d{2,4}(?:_\w+)?|_tr\w+|^\d{6,8}[_-]\d{2,6}(?:_\w+)?|^zoom\d{4}(?:_\w+)?|^[a-z]\d{3}_\d+(?:_\d+)?)$/i;
/** What recorders write beside their sound: reports and settings. Common practice, no source. */
const RECORDER_FILES = new Set([
  '',
  'txt',
  'csv',
  'xml',
  'ale',
  'pdf',
  'ini',
  'hprj',
  'sys',
  'bin',
  'cfg',
  'dat',
  'log',
]);
const MOST_RECORDER_FOLDERS = 3;

/**
 * Whether a file system is a camera's or sound recorder's card, from the names in its first three levels (deeper ones
 * are not looked at). `null`: it does not look like one. Without case. The signs must be at the root itself, and little
 * else beside them: a disk on which a card was copied is no card.
 */
export function cardLayoutOf(entries: readonly CardEntry[]): CardSigns | null {
  const near = entries.filter(({ path }) => isNear(path.split('/')));
  const roots = near.filter(({ path, dir }) => dir && !path.includes('/')).map(({ path }) => path.toLowerCase());
  if (roots.some((name) => COMPUTER_FOLDERS.test(name))) return null;
  return byFolders(near, roots) ?? byReel(near, roots) ?? bySound(near, roots);
}

/** The copied card that a file on a volume belongs to, told from its path alone; `null` of a flat copy. */
export function copiedCardOf(path: PathText): CopiedCard | null {
  for (const { layout, copy } of LAYOUTS) {
    const match = copy.exec(path);
    if (match !== null) return { root: match[1] ?? '', layout };
  }
  return reelOf(path);
}

/** The folder of `copiedCardOf`; empty text: the volume's root itself. */
export function cardRootOn(path: PathText): PathText | null {
  return copiedCardOf(path)?.root ?? null;
}

function isNear(names: readonly string[]): boolean {
  return names.length <= 3 && names.every((name, depth) => systemName(name, depth) === null);
}

function byFolders(near: readonly CardEntry[], roots: readonly string[]): CardSigns | null {
  const paths = near.map(({ path, dir }) => ({ path, key: `${path.toLowerCase()}${dir ? '/' : ''}` }));
  for (const { layout, needs } of LAYOUTS) {
    const found = needs.map((sign) => paths.find(({ key }) => sign.test(key)));
    const signs = found.filter((entry) => entry !== undefined);
    if (signs.length < needs.length) continue;
    const own = new Set(signs.map(({ key }) => key.slice(0, key.indexOf('/'))));
    const foreign = roots.filter((name) => !own.has(name) && !CARD_FOLDERS.has(name) && !/\.rd[mc]$/.test(name));
    if (foreign.length <= MOST_FOREIGN) return { layout, evidence: signs.map(({ path }) => path).join(', ') };
  }
  return null;
}

/** One or two reels, in a folder of their name or at the root itself, and nothing else. */
function byReel(near: readonly CardEntry[], roots: readonly string[]): CardSigns | null {
  const pictures = near.filter(({ path, dir }) => !dir && PICTURE.has(extension(path)));
  const clip = pictures.find(({ path }) => REEL_CLIP.test(baseName(path)));
  if (clip === undefined || !pictures.every(({ path }) => REEL_CLIP.test(baseName(path)))) return null;
  const reels = roots.filter((name) => !CARD_FOLDERS.has(name));
  if (reels.length > MOST_REELS || !reels.every((name) => REEL_FOLDER.test(name))) return null;
  const inReel = pictures.every(({ path }) => !path.includes('/') || reelOf(path) !== null);
  return inReel ? { layout: 'reel folder', evidence: clip.path } : null;
}

/** `A002R2EC/A002C006_141024_R2EC.mov`, also with one folder between: the folder's name begins with the clip's reel. */
function reelOf(path: PathText): CopiedCard | null {
  const reel = REEL_CLIP.exec(baseName(path))?.[1]?.toLowerCase();
  if (reel === undefined || !PICTURE.has(extension(path))) return null;
  for (const folder of [dirName(path), dirName(dirName(path))]) {
    const name = baseName(folder).toLowerCase();
    if (name.startsWith(reel) && REEL_FOLDER.test(name) && !REEL_CLIP.test(name)) {
      return { root: folder, layout: 'reel folder' };
    }
  }
  return null;
}

/** Nothing but sound under names that recorders give, and the recorder's own small files. */
function bySound(near: readonly CardEntry[], roots: readonly string[]): CardSigns | null {
  const files = near.filter(({ dir }) => !dir);
  const sound = files.filter(({ path }) => SOUND.has(extension(path)));
  const takes = sound.filter(({ path }) => TAKE_NAME.test(stem(path)));
  const [first] = takes;
  if (first === undefined || takes.length * 2 < sound.length || roots.length > MOST_RECORDER_FOLDERS) return null;
  const only = files.every(({ path }) => SOUND.has(extension(path)) || RECORDER_FILES.has(extension(path)));
  return only ? { layout: 'sound recorder', evidence: first.path } : null;
}
