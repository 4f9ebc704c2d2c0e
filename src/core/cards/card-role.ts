import { isCardNote } from '../intake/card-layout.ts';
import { isEssenceName, isFootageName, kindOf } from '../intake/kind.ts';
import { baseName, dirName, extension } from '../intake/path-text.ts';
import { systemName } from '../intake/system-names.ts';
import type { PathText } from '../model.ts';

/**
 * What a file of a card is for: `footage` is what was recorded and cannot be made again; a `companion` describes it or
 * goes with it (metadata, proxies, looks, notes); `housekeeping` is the camera's own: thumbnails, indexes, system files.
 */
export type CardFileRole = 'footage' | 'companion' | 'housekeeping';

export const CARD_FILE_ROLES: readonly CardFileRole[] = ['footage', 'companion', 'housekeeping'];

/** Folders whose files the camera makes again, or makes for its own display. Card handlers of the XMP Toolkit SDK; rest from memory. */
const OWN_FOLDERS = new Set(['thmbnl', 'avchdtn', 'icon', 'avf_info', 'misc', 'database', 'canonmsc', 'lost.dir']);

/** What thumbnails are written as: below those folders they are no recording. Common practice, no source. */
const THUMBNAILS = new Set(['jpg', 'jpeg', 'png', 'tif', 'tiff']);

/** Lists of a whole card. XMP Toolkit SDK (P2, XDCAM, XDCAM EX, AVCHD, HDV handlers). */
const OWN_NAMES = new Set([
  'lastclip.txt',
  'index.xml',
  'discmeta.xml',
  'mediapro.xml',
  'cueup.xml',
  'index.bdm',
  'movieobj.bdm',
  'index.bdmv',
  'movieobject.bdmv',
  'tracks.dat',
]);

/** Thumbnails, catalogues and settings by extension. From memory. */
const OWN_EXTENSIONS = new Set([
  'thm',
  'ppn',
  'rtn',
  'bup',
  'ctg',
  'bin',
  'dat',
  'inp',
  'int',
  'ind',
  'ini',
  'log',
  'sys',
  'db',
]);

/**
 * The role of a file, from its path below the card's root. What has a media extension is footage when in doubt, and a
 * companion below the camera's own folders: to call it housekeeping would hide its loss.
 */
export function cardFileRole(path: PathText): CardFileRole {
  const names = path.split('/');
  if (names.some((name, depth) => systemName(name, depth) !== null)) return 'housekeeping';
  const folders = dirName(path).toLowerCase().split('/');
  if (folders.some((name) => OWN_FOLDERS.has(name))) {
    return isEssenceName(path) && !THUMBNAILS.has(extension(path)) ? 'companion' : 'housekeeping';
  }
  if (OWN_NAMES.has(baseName(path).toLowerCase()) || OWN_EXTENSIONS.has(extension(path))) return 'housekeeping';
  if (!isFootageName(path) || isCardNote(path)) return 'companion';
  const { kind } = kindOf(path);
  return kind === 'proxy' || kind === 'cache' || kind === 'sidecar' ? 'companion' : 'footage';
}
