import type { Clip, Kind, PathText } from '../model.ts';
import {
  CACHE,
  CINEMA_FRAME,
  FRAME,
  GRAPHICS,
  PICTURE,
  PROJECT_FILE,
  PROXY,
  SIDECAR,
  SOUND,
  STILL,
} from './extensions.ts';
import { dirName, extension, stem } from './path-text.ts';
import { frameOf } from './sequence.ts';
import { isCacheName } from './shared-names.ts';

export interface KindDecision {
  kind: Kind;
  /** The folder name, file name part or extension that decided. */
  reason: string;
}

/** Folders that a configuration names, in lower case and NFC, and what is in them. */
export type KindFolders = ReadonlyMap<string, Kind>;

const NO_FOLDERS: KindFolders = new Map();

/** Folder names by kind, as a configuration has them, turned round. A name under two kinds is of the first. */
export function kindFolders(kinds: Partial<Record<Kind, readonly string[]>>): KindFolders {
  const found = new Map<string, Kind>();
  for (const [kind, names] of Object.entries(kinds)) {
    for (const name of names ?? []) if (!found.has(foldName(name))) found.set(foldName(name), kind as Kind);
  }
  return found;
}

/** Folders by what is in them. Exact names, without case: a wrong guess here would hide footage from safety. */
const PROXY_FOLDERS = new Set(['proxy', 'proxies', 'proxy media', 'proxy files', 'lowres', 'low res']);
const RENDER_FOLDERS = new Set([
  'render',
  'renders',
  'rendered',
  'export',
  'exports',
  'deliverable',
  'deliverables',
  'delivery',
  'deliveries',
]);
const CACHE_FOLDERS = new Set([
  'preview',
  'previews',
  'audio previews',
  'video previews',
  'peak files',
  'waveforms',
  'thumbnails',
  'render files',
]);
const GRAPHICS_FOLDERS = new Set(['graphics', 'gfx', 'titles', 'logos', 'artwork']);
const TIMELINE_FOLDERS = new Set([
  'project',
  'projects',
  'edit',
  'edits',
  'timeline',
  'timelines',
  'sequences',
  'xml',
  'edl',
]);

/**
 * What a file is for, from its path below the project. A folder that the configuration names decides first, then one whose
 * name tells it (of each the innermost that says anything), then marks in the file's name, then the extension. A file with
 * a media extension is an `original` when in doubt.
 */
export function kindOf(path: PathText, configured: KindFolders = NO_FOLDERS): KindDecision {
  const folders = dirName(path)
    .split('/')
    .filter((name) => name !== '');
  const byExtension = kindOfExtension(path);
  const shown = () => kindOfMarks(path, folders, byExtension.kind) ?? byExtension;
  return (
    kindOfConfigured(folders, configured, shown) ?? kindOfFolders(folders, byExtension.kind, extension(path)) ?? shown()
  );
}

/**
 * Why a clip is of its kind, by the path of its first file and the project it is in; `null` where something else decided (the
 * files beside it), or the configuration has changed since.
 */
export function kindReason(
  { kind, project, paths: [path = ''] }: Pick<Clip, 'kind' | 'project' | 'paths'>,
  configured: KindFolders,
): string | null {
  const isBelow = project !== null && path.startsWith(`${project}/`);
  const decision = kindOf(isBelow ? path.slice(project.length + 1) : path, configured);
  return decision.kind === kind ? decision.reason : null;
}

/** Whether a file of this kind is read by the probe: moving picture, frames and sound that belong to clips. */
export function isMedia(kind: Kind, fileExtension: string): boolean {
  if (kind === 'still' || kind === 'sidecar' || kind === 'cache' || kind === 'project-file' || kind === 'other')
    return false;
  return isEssence(fileExtension);
}

/** Whether an extension promises recorded content, so that an empty or foreign file under it is wrong. */
export function isFootageName(path: PathText): boolean {
  const ext = extension(path);
  return isEssence(ext) || STILL.has(ext);
}

/** Whether an extension promises moving picture, frames or sound: what a probe may be able to read. */
export function isEssenceName(path: PathText): boolean {
  return isEssence(extension(path));
}

function isEssence(ext: string): boolean {
  return PICTURE.has(ext) || SOUND.has(ext) || FRAME.has(ext) || PROXY.has(ext);
}

/**
 * A folder of originals takes away what built-in names would say; a camera's small picture in it stays one. Other folders
 * decide for picture and sound, a cache for all. What describes (sidecars, project files) keeps its kind.
 */
function kindOfConfigured(
  folders: readonly string[],
  configured: KindFolders,
  shown: () => KindDecision,
): KindDecision | null {
  const folder = configured.size === 0 ? undefined : folders.findLast((name) => configured.has(foldName(name)));
  const kind = folder === undefined ? undefined : configured.get(foldName(folder));
  if (kind === undefined) return null;
  const reason = `configured folder ${folder}`;
  if (kind === 'cache') return { kind, reason };
  const own = shown();
  if (!isMedium(own.kind)) return own;
  return { kind: kind === 'original' ? own.kind : kind, reason };
}

function foldName(name: string): string {
  return name.normalize('NFC').toLowerCase();
}

function isMedium(kind: Kind): boolean {
  return kind === 'original' || kind === 'sound' || kind === 'still' || kind === 'graphics';
}

function kindOfFolders(folders: readonly string[], kind: Kind, ext: string): KindDecision | null {
  for (const folder of folders.toReversed()) {
    const found = kindOfFolder(folder.toLowerCase(), kind, ext);
    if (found !== null) return { kind: found, reason: `folder ${folder}` };
  }
  return null;
}

function kindOfFolder(folder: string, kind: Kind, ext: string): Kind | null {
  const medium = isMedium(kind);
  if (isCacheName(folder) || CACHE_FOLDERS.has(folder)) return 'cache';
  if (medium && PROXY_FOLDERS.has(folder)) return 'proxy';
  if (medium && RENDER_FOLDERS.has(folder)) return 'render';
  if (GRAPHICS_FOLDERS.has(folder) && (kind === 'still' || (kind === 'original' && FRAME.has(ext)))) return 'graphics';
  return null;
}

/** Marks that cameras set in names and in the innermost folders (card layouts: core/intake/card-layout.ts). */
function kindOfMarks(path: PathText, folders: readonly string[], kind: Kind): KindDecision | null {
  const [parent = '', grandParent = ''] = folders.toReversed().map((name) => name.toUpperCase());
  const base = stem(path);
  if (parent === 'THMBNL' || parent === 'AVCHDTN') return { kind: 'sidecar', reason: `thumbnail folder ${parent}` };
  if (parent === 'ICON' && grandParent === 'CONTENTS') return { kind: 'sidecar', reason: 'icon folder of a card' };
  if (extension(path) === 'xml' && TIMELINE_FOLDERS.has(parent.toLowerCase())) {
    return { kind: 'project-file', reason: `timeline in folder ${parent}` };
  }
  if (kind !== 'original') return null;
  if (/[_-]proxy$/i.test(base)) return { kind: 'proxy', reason: 'name ends in proxy' };
  if (/^LRV_/.test(base)) return { kind: 'proxy', reason: 'name begins with LRV_' };
  const subFolder = parent === 'SUB' || grandParent === 'CLPR';
  if (subFolder && /S\d\d$/i.test(base)) return { kind: 'proxy', reason: 'sub-stream of a card' };
  return null;
}

function kindOfExtension(path: PathText): KindDecision {
  const ext = extension(path);
  const decide = (kind: Kind) => ({ kind, reason: `extension .${ext}` });
  if (ext === '') return { kind: 'other', reason: 'no extension' };
  if (PROXY.has(ext)) return decide('proxy');
  if (PICTURE.has(ext)) return decide('original');
  if (ext === 'dng' && frameOf(path) !== null) return { kind: 'original', reason: 'numbered .dng frame' };
  if (CINEMA_FRAME.has(ext)) return decide('original');
  if (SOUND.has(ext)) return decide('sound');
  if (STILL.has(ext)) return decide('still');
  if (GRAPHICS.has(ext)) return decide('graphics');
  if (PROJECT_FILE.has(ext)) return decide('project-file');
  if (SIDECAR.has(ext)) return decide('sidecar');
  if (CACHE.has(ext)) return decide('cache');
  return { kind: 'other', reason: `unknown extension .${ext}` };
}
