import type { FileRecord, Kind, PathText } from '../model.ts';
import { dirName, joinPath } from './path-text.ts';
import { type Frame, frameOf, isSequence, missingFrames, sequenceName } from './sequence.ts';
import { clipOf, type GroupedClip, type GroupedUnit, withKind } from './take-clip.ts';
import { groupTakes, TAKE_KINDS } from './take-clips.ts';
import { essenceOf, takeOf } from './take-name.ts';
import { byPath } from './take-parts.ts';

export type { GroupedClip, GroupedUnit } from './take-clip.ts';

/** Kinds that numbered frames may have; a cache's frames are no clip. */
const FRAME_KINDS = new Set<Kind>(['original', 'still', 'graphics', 'render', 'proxy']);

/**
 * The key of the unit that a file settles and is grouped with. It depends on the one path alone, never on what else has
 * arrived, so the order of arrival cannot change it.
 *
 * - numbered frames: `dir/prefix[####].ext`, one unit for all numbers of the same length;
 * - the files of a take: `dir/stem.*`, with the stem in lower case and without what tells a file from others of its take
 *   (core/intake/take-name.ts);
 * - everything else by itself: its path.
 */
export function unitOf(path: PathText, kind: Kind): string {
  const frame = frameOf(path);
  if (frame !== null) return joinPath(frame.dir, `${frame.prefix}[${'#'.repeat(frame.digits)}]${frame.suffix}`);
  if (!TAKE_KINDS.has(kind)) return path;
  const take = takeOf(path);
  if (kind !== 'sidecar' && essenceOf(path, take) === null) return path;
  return joinPath(take.dir, `${take.stem.toLowerCase()}.*`);
}

/**
 * Sorts the files of ONE unit into clips and the rest. A pure function of the set: any order gives the same answer, every
 * file is in exactly one place. Two pictures of one name are two clips (a list, for that reason); separate sound and
 * sidecars go with the one of their name, else with the first. The kinds in the records returned are those that the group
 * shows: numbered stills that make a sequence are `original`, frames too few for one are `still`.
 */
export function groupUnit(files: readonly FileRecord[]): GroupedUnit {
  const sorted = files.toSorted(byPath);
  const { frames = [], others = [] } = Object.groupBy(sorted, (file) => (isFrame(file) ? 'frames' : 'others'));
  const sequences = groupFrames(frames);
  const takes = groupTakes(others);
  const clips = [...sequences.clips, ...takes.clips].map((clip, index) => ({ ...clip, unit: clipUnit(clip, index) }));
  return { clips, loose: [...sequences.loose, ...takes.loose] };
}

function groupFrames(files: readonly FileRecord[]): GroupedUnit {
  const numbered = files
    .map((file) => ({ file, frame: frameOf(file.path) }))
    .filter((entry): entry is { file: FileRecord; frame: Frame } => entry.frame !== null)
    .toSorted((a, b) => a.frame.number - b.frame.number);
  const frames = numbered.map(({ frame }) => frame);
  if (!isSequence(frames)) {
    const loose = numbered.map(({ file }) => withKind(file, file.kind === 'original' ? 'still' : file.kind));
    return { clips: [], loose };
  }
  const essence = numbered.map(({ file }) => withKind(file, file.kind === 'still' ? 'original' : file.kind));
  const clip = clipOf(essence, { parts: 'frames', reason: 'numbered-frames', name: sequenceName(frames) });
  return { clips: [{ ...clip, missingFrames: missingFrames(frames.map(({ number }) => number)) }], loose: [] };
}

/** Behind the key: the file's path below the folders that it shares with the key. */
function clipUnit(clip: GroupedClip, index: number): string {
  if (index === 0) return clip.unit;
  const folders = dirName(clip.unit).toLowerCase().split('/');
  const names = (clip.essence[0]?.path ?? '').split('/');
  const differ = names.findIndex((name, at) => name.toLowerCase() !== folders[at]);
  return `${clip.unit}#${names.slice(differ).join('/')}`;
}

function isFrame(file: FileRecord): boolean {
  return FRAME_KINDS.has(file.kind) && frameOf(file.path) !== null;
}
