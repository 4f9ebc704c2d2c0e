import type { Clip } from '../model.ts';

/** What of a clip can tell its camera. */
type Named = Pick<Clip, 'name' | 'paths'> & { facts: Pick<Clip['facts'], 'reel' | 'camera'> };

/** Which camera a clip seems to come from, and how far to believe it (0..1; below .6 the angles are guessed). */
export interface CameraGuess {
  /** The camera's letter or number, else its model or the file names' prefix; `null`: nothing to go by. */
  camera: string | null;
  confidence: number;
  from: 'reel' | 'folder' | 'file-name' | 'model' | 'nothing';
}

/** A reel name: camera letter and three or four digits, then what the camera maker likes (A001, A_0001, A002R2EC). */
const REEL = /^([A-Z])[_-]?\d{3,4}(?!\d)/i;
/** Camera letter, reel and clip number in a file name (A004C010_..., A004_C001_..., A_0001C001...); not C0001.MXF. */
const REEL_AND_CLIP = /^([A-Z])_?\d{3,4}_?C\d{3,4}/i;
/** A reel as the name of its folder (A001, A002R2EC, A004.RDM). */
const REEL_FOLDER = /^([A-Z])\d{3}(?:R[0-9A-Z]{3}|\.RDM)?$/i;
/** CAM_A, Camera 1, CAM2, CAMB (not the plurals CAMS and CAMERAS), A_CAM, B-Camera, 2cam. */
const CAMERA_FOLDERS = [
  /^CAM(?:ERA)?(?:[ _-]([A-Z]|\d{1,2})|(\d{1,2}))$/i,
  /^CAM([A-RT-Z])$/i,
  /^([A-Z]|\d{1,2})[ _-]?CAM(?:ERA)?$/i,
];
const CAMERA_NAMES = [/^CAM(?:ERA)?[ _-]?([A-Z]|\d{1,2})(?=[ _.-])/i, /^([A-Z]|\d{1,2})[ _-]?CAM(?=[ _.-]|\d)/i];
const LETTER_NAME = /^([A-Z])[ _-]/i;
/** Letters before the counter: `wide_001`, `GH011234`. */
const NAME_PREFIX = /^([A-Za-z][A-Za-z ]*?)[ _-]*\d/;

/**
 * Reads the camera from the reel's prefix, else a folder, else the file name, else the model. The confidences are a
 * ranking by judgement (common practice, no source): a reel name is made by the camera, a folder by a person, and two
 * cameras of one model share model and prefix.
 */
export function cameraOf(clip: Named): CameraGuess {
  const parts = (clip.paths[0] ?? clip.name).split('/');
  const name = parts.at(-1) ?? clip.name;
  const folders = parts.slice(0, -1).reverse();
  return (
    guess(first([clip.facts.reel ?? ''], [REEL]), 0.9, 'reel') ??
    guess(first([name], [REEL_AND_CLIP]), 0.85, 'reel') ??
    guess(first(folders, [REEL_FOLDER]), 0.85, 'reel') ??
    guess(first(folders, CAMERA_FOLDERS), 0.8, 'folder') ??
    guess(first([name], CAMERA_NAMES), 0.7, 'file-name') ??
    guess(first([name], [LETTER_NAME]), 0.6, 'file-name') ??
    modelOrPrefix(clip.facts.camera, NAME_PREFIX.exec(name)?.[1] ?? null)
  );
}

function modelOrPrefix(model: string | null, prefix: string | null): CameraGuess {
  if (model !== null) return { camera: prefix === null ? model : `${model} ${prefix}`, confidence: 0.5, from: 'model' };
  if (prefix !== null) return { camera: prefix, confidence: 0.4, from: 'file-name' };
  return { camera: null, confidence: 0, from: 'nothing' };
}

function guess(camera: string | null, confidence: number, from: CameraGuess['from']): CameraGuess | null {
  return camera === null ? null : { camera: camera.toUpperCase(), confidence, from };
}

function first(texts: readonly string[], patterns: readonly RegExp[]): string | null {
  for (const text of texts) {
    for (const pattern of patterns) {
      const found = pattern
        .exec(text)
        ?.slice(1)
        .find((part) => part !== undefined);
      if (found !== undefined) return found;
    }
  }
  return null;
}
