import type { FileRecord, Kind, PathText } from '../model.ts';
import { isCardNote, isCardSound, takeOf } from './card-layout.ts';
import { PICTURE, PROXY, SOUND } from './extensions.ts';
import { baseName, extension, joinPath } from './path-text.ts';
import { type Frame, type FrameRange, frameOf, isSequence, missingFrames, sequenceName } from './sequence.ts';

/** A clip as its files show it, before anything was read. */
export interface GroupedClip {
  /** The unit's key; when a unit holds several clips, all but the first have their file's name behind it. */
  unit: string;
  /** The essence file's name, or `name_[0001-0024].dpx`. */
  name: string;
  kind: Kind;
  /** First is the one to probe: the picture, or the first frame by number. Then separate sound of the same take. */
  essence: FileRecord[];
  sidecars: FileRecord[];
  missingFrames: FrameRange[];
  /** Essence and sidecars together. */
  bytes: number;
  essenceBytes: number;
}

export interface GroupedUnit {
  clips: GroupedClip[];
  /** Files that belong to no clip: stills, project files, sidecars without essence. */
  loose: FileRecord[];
}

/** Kinds that may be one take with others of the same name in the same folder. */
const TAKE_KINDS = new Set<Kind>(['original', 'sound', 'render', 'proxy', 'sidecar']);

/** Kinds that numbered frames may have; a cache's frames are no clip. */
const FRAME_KINDS = new Set<Kind>(['original', 'still', 'graphics', 'render', 'proxy']);

/** The picture that leads a unit, when there are several. */
const LEADING: readonly Kind[] = ['original', 'render', 'proxy'];

/**
 * The key of the unit that a file settles and is grouped with. It depends on the one path alone, never on what else has
 * arrived, so the order of arrival cannot change it.
 *
 * - numbered frames: `dir/prefix[####].ext`, one unit for all numbers of the same length;
 * - the files of a take: `dir/stem.*`, with the stem in lower case and a camera's sidecar suffix taken off;
 * - everything else by itself: its path.
 */
export function unitOf(path: PathText, kind: Kind): string {
  const frame = frameOf(path);
  if (frame !== null) return joinPath(frame.dir, `${frame.prefix}[${'#'.repeat(frame.digits)}]${frame.suffix}`);
  if (!TAKE_KINDS.has(kind) || !(kind === 'sidecar' || isPicture(path) || isSound(path))) return path;
  const take = takeOf(path);
  return joinPath(take.dir, `${take.stem.toLowerCase()}.*`);
}

/**
 * Sorts the files of ONE unit into clips and the rest. A pure function of the set: any order gives the same answer, every
 * file is in exactly one place. Two pictures of one name are two clips (a list, for that reason); separate sound and
 * sidecars go with the first. The kinds in the records returned are those that the group shows: numbered stills that
 * make a sequence are `original`, frames too few for one are `still`.
 *
 * Parts of one recording in several files (spans, chapters) stay clips of their own, each with true facts.
 */
export function groupUnit(files: readonly FileRecord[]): GroupedUnit {
  const sorted = files.toSorted((a, b) => (a.path < b.path ? -1 : a.path > b.path ? 1 : 0));
  const { frames = [], others = [] } = Object.groupBy(sorted, (file) => (isFrame(file) ? 'frames' : 'others'));
  const sequence = groupFrames(frames);
  const takes = groupTakes(others);
  const clips = [...sequence.clips, ...takes.clips].map((clip, index) => ({ ...clip, unit: clipUnit(clip, index) }));
  return { clips, loose: [...sequence.loose, ...takes.loose] };
}

function groupFrames(files: readonly FileRecord[]): GroupedUnit {
  const numbered = files
    .map((file) => ({ file, frame: frameOf(file.path) }))
    .filter((entry): entry is { file: FileRecord; frame: Frame } => entry.frame !== null)
    .toSorted((a, b) => a.frame.number - b.frame.number);
  const frames = numbered.map(({ frame }) => frame);
  if (!isSequence(frames)) {
    return {
      clips: [],
      loose: numbered.map(({ file }) => withKind(file, file.kind === 'original' ? 'still' : file.kind)),
    };
  }
  const essence = numbered.map(({ file }) => withKind(file, file.kind === 'still' ? 'original' : file.kind));
  const clip = clipOf(essence, sequenceName(frames));
  return { clips: [{ ...clip, missingFrames: missingFrames(frames.map(({ number }) => number)) }], loose: [] };
}

function groupTakes(files: readonly FileRecord[]): GroupedUnit {
  const notes = files.filter((file) => file.kind === 'sidecar' || (TAKE_KINDS.has(file.kind) && isCardNote(file.path)));
  const essence = files.filter((file) => TAKE_KINDS.has(file.kind) && !notes.includes(file));
  const pictures = essence.filter((file) => isPicture(file.path)).toSorted(byLead);
  const sounds = essence
    .filter((file) => isSound(file.path))
    .map((file) => (file.kind === 'original' ? withKind(file, 'sound') : file));
  const clips = joinSound(pictures, sounds);
  const loose = files.filter((file) => !notes.includes(file) && !pictures.includes(file) && !essenceHas(clips, file));
  if (clips.length === 0) return { clips, loose: [...loose, ...notes] };
  return { clips: attach(clips, notes), loose };
}

/** Pictures each make a clip; sound joins the first picture of its own standing, else it makes clips of its own. */
function joinSound(pictures: readonly FileRecord[], sounds: readonly FileRecord[]): GroupedClip[] {
  const [lead] = pictures;
  const joins = (sound: FileRecord) =>
    lead !== undefined && lead.kind === (sound.kind === 'sound' ? 'original' : sound.kind);
  const joined = sounds.filter(joins);
  const alone = sounds.filter((sound) => !joins(sound));
  const channels = alone.filter((sound) => isCardSound(sound.path));
  const groups = [
    ...pictures.map((picture) => (picture === lead ? [picture, ...joined] : [picture])),
    ...(channels.length > 0 ? [channels] : []),
    ...alone.filter((sound) => !channels.includes(sound)).map((sound) => [sound]),
  ];
  return groups.map((group) => clipOf(group, baseName(group[0]?.path ?? '')));
}

/** A sidecar named after one file in full (`A001.mp4.xmp`) goes with that file, every other with the first clip. */
function attach(clips: readonly GroupedClip[], sidecars: readonly FileRecord[]): GroupedClip[] {
  const owner = (sidecar: FileRecord) => {
    const name = baseName(sidecar.path).toLowerCase();
    const named = clips.findIndex(({ essence }) =>
      essence.some(({ path }) => name.startsWith(`${baseName(path).toLowerCase()}.`)),
    );
    return Math.max(named, 0);
  };
  return clips.map((clip, index) =>
    withSidecars(
      clip,
      sidecars.filter((sidecar) => owner(sidecar) === index),
    ),
  );
}

function clipOf(essence: FileRecord[], name: string): GroupedClip {
  const [first] = essence;
  if (first === undefined) throw new RangeError('a clip without essence');
  const bytes = sumBytes(essence);
  return {
    unit: first.unit,
    name,
    kind: first.kind,
    essence,
    sidecars: [],
    missingFrames: [],
    bytes,
    essenceBytes: bytes,
  };
}

function withSidecars(clip: GroupedClip, sidecars: FileRecord[]): GroupedClip {
  return { ...clip, sidecars, bytes: clip.essenceBytes + sumBytes(sidecars) };
}

function clipUnit(clip: GroupedClip, index: number): string {
  const path = clip.essence[0]?.path ?? '';
  return index === 0 ? clip.unit : `${clip.unit}#${path.slice(takeOf(path).dir.length).replace(/^\//, '')}`;
}

function byLead(a: FileRecord, b: FileRecord): number {
  return LEADING.indexOf(a.kind) - LEADING.indexOf(b.kind);
}

function isFrame(file: FileRecord): boolean {
  return FRAME_KINDS.has(file.kind) && frameOf(file.path) !== null;
}

function essenceHas(clips: readonly GroupedClip[], file: FileRecord): boolean {
  return clips.some(({ essence }) => essence.some(({ path }) => path === file.path));
}

function isPicture(path: PathText): boolean {
  const ext = extension(path);
  return (PICTURE.has(ext) || PROXY.has(ext)) && !isCardSound(path);
}

function isSound(path: PathText): boolean {
  return SOUND.has(extension(path)) || isCardSound(path);
}

function withKind(file: FileRecord, kind: Kind): FileRecord {
  return file.kind === kind ? file : { ...file, kind };
}

function sumBytes(files: readonly FileRecord[]): number {
  return files.reduce((sum, { size }) => sum + size, 0);
}
