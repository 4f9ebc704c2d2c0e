import type { PathText } from '../model.ts';
import { dirName, extension, joinPath, stem } from './path-text.ts';

/**
 * P2 card: VIDEO/0001AB.MXF, AUDIO/0001AB00.MXF .. (two more digits are the channel), CLIP/0001AB.XML, ICON/0001AB.BMP,
 * VOICE/0001AB00.WAV belong to clip 0001AB; names compare without case. PROXY is left out: it is a clip of its own kind
 * and must not hold up the original. Source: the XMP Toolkit SDK's P2 handler and the maker's manuals.
 */
const P2 = /^(?:(.*)\/)?contents\/(clip|video|audio|icon|voice|avclip)\/([0-9a-z]{6})(\d\d)?\.([0-9a-z]+)$/is;

/** AVCHD: STREAM/00000.MTS and CLIPINF/00000.CPI. The playlist's numbers are its own. Source: XMP Toolkit SDK, AVCHD handler. */
const AVCHD = /^((?:.*\/)?bdmv)\/(?:stream|clipinf)\/(\d{5})\.(?:mts|m2ts|cpi|clpi)$/is;

/**
 * Sidecars of file-based camcorder cards: C0001M01.XML, C0001R01.BIM, C0001I01.PPN, C0001C01.SMI beside C0001.MXF (also
 * 709_001_01M01.XML beside 709_001_01.MP4). Source: XMP Toolkit SDK, XDCAM and XDCAM EX handlers.
 */
const NUMBERED_SIDECAR = /^(.*\d)[MRIC]\d\d$/i;
const NUMBERED_SIDECAR_EXTENSIONS = new Set(['xml', 'klv', 'bim', 'ppn', 'smi']);

/** Extensions that may stand before a sidecar's own: `A001.mov.xmp`, `A001.mov.md5`. */
const INNER_EXTENSION = /^(.+)\.(?:mov|mp4|m4v|mxf|mts|m2ts|avi|mkv|r3d|braw|arx|crm|wav|dv|insv)$/is;

/** The folder and stem that a file shares with the other files of its take. Pure on one path. */
export function takeOf(path: PathText): { dir: PathText; stem: string } {
  const p2 = P2.exec(path);
  if (p2 !== null) return { dir: joinPath(p2[1] ?? '', 'CONTENTS'), stem: p2[3] ?? '' };
  const avchd = AVCHD.exec(path);
  if (avchd !== null) return { dir: avchd[1] ?? '', stem: avchd[2] ?? '' };
  const base = stem(path);
  const numbered = NUMBERED_SIDECAR_EXTENSIONS.has(extension(path)) ? NUMBERED_SIDECAR.exec(base)?.[1] : undefined;
  return { dir: dirName(path), stem: numbered ?? INNER_EXTENSION.exec(base)?.[1] ?? base };
}

/** Whether a file is separate sound of a card although its extension says picture (P2: AUDIO/0001AB00.MXF). */
export function isCardSound(path: PathText): boolean {
  const p2 = P2.exec(path);
  return p2 !== null && p2[2]?.toLowerCase() === 'audio';
}

/** Whether a file is a spoken note to a clip of a card (P2: VOICE/0001AB00.WAV), not its sound. */
export function isCardNote(path: PathText): boolean {
  const p2 = P2.exec(path);
  return p2 !== null && p2[2]?.toLowerCase() === 'voice';
}
