import type { FileRecord, Kind } from '../model.ts';
import { isCardNote } from './card-layout.ts';
import { extension } from './path-text.ts';
import { withCompanions, withSidecars } from './take-beside.ts';
import { clipOf, filesOf, type GroupedClip, type GroupedUnit, withKind } from './take-clip.ts';
import { essenceOf, isCameraProxy, takeOf } from './take-name.ts';
import { type Recording, recordingsOf } from './take-parts.ts';

/** Kinds that may be one take with others of the same name in the same folder. */
export const TAKE_KINDS: ReadonlySet<Kind> = new Set<Kind>(['original', 'sound', 'render', 'proxy', 'sidecar']);

/** The picture that leads a unit, when there are several. */
const LEADING: readonly Kind[] = ['original', 'render', 'proxy'];

/** Clips of the files of one unit that are no numbered frames, and the rest. In the order of their paths. */
export function groupTakes(files: readonly FileRecord[]): GroupedUnit {
  const notes = files.filter((file) => file.kind === 'sidecar' || (TAKE_KINDS.has(file.kind) && isCardNote(file.path)));
  const essence = files.filter((file) => TAKE_KINDS.has(file.kind) && !notes.includes(file));
  const sounds = essence
    .filter(({ path }) => essenceOf(path) === 'sound')
    .map((file) => (file.kind === 'original' ? withKind(file, 'sound') : file));
  const pictures = essence.filter(({ path }) => essenceOf(path) === 'picture');
  const clips = withSidecars(withCompanions(joinSound(pictures, sounds)), notes);
  const placed = new Set(filesOf({ clips, loose: [] }).map(({ path }) => path));
  return { clips: clips.map(withReason), loose: files.filter(({ path }) => !placed.has(path)) };
}

/** Recordings each make a clip; sound joins that of its own name and standing, else it makes clips of its own. */
function joinSound(pictures: readonly FileRecord[], sounds: readonly FileRecord[]): GroupedClip[] {
  const recordings = recordingsOf(pictures).toSorted(byLead);
  const owners = new Map(sounds.map((sound) => [sound, pictureOf(sound, recordings)]));
  const withSound = recordings.map((each) =>
    recordedClip(
      each,
      sounds.filter((sound) => owners.get(sound) === each),
    ),
  );
  const alone = recordingsOf(sounds.filter((sound) => owners.get(sound) === undefined));
  return [...withSound, ...withWholeTake(alone).map((each) => recordedClip(each, []))];
}

function pictureOf(sound: FileRecord, recordings: readonly Recording[]): Recording | undefined {
  const kind = sound.kind === 'sound' ? 'original' : sound.kind;
  const fitting = recordings.filter(({ files }) => files[0]?.kind === kind);
  const { recording, sound: ofCard } = takeOf(sound.path);
  return fitting.find(({ take }) => take.recording === recording) ?? (ofCard ? undefined : fitting[0]);
}

function recordedClip({ files, take, missingParts }: Recording, sound: readonly FileRecord[]): GroupedClip {
  const behind = recordingsOf(sound).flatMap((each) => each.files);
  const parts = files.length > 1 ? (take.relation ?? 'tracks') : behind.length > 0 ? 'tracks' : null;
  return clipOf([...files, ...behind], { parts, separateSound: behind.length, missingParts, reason: take.by });
}

/** The tracks of a take and one file of the take's plain name, recorded at once: the whole comes first. */
function withWholeTake(recordings: readonly Recording[]): Recording[] {
  const tracks = recordings.find(({ take }) => take.relation === 'tracks');
  if (tracks === undefined) return [...recordings];
  const whole = recordings.find((each) => each.take.by === 'same-stem' && endingOf(each) === endingOf(tracks));
  if (whole === undefined) return [...recordings];
  const joined = { ...tracks, files: [...whole.files, ...tracks.files] };
  return recordings.filter((each) => each !== whole).map((each) => (each === tracks ? joined : each));
}

function endingOf({ files: [first] }: Recording): string {
  return extension(first?.path ?? '');
}

function withReason(clip: GroupedClip): GroupedClip {
  const [first] = clip.essence;
  if (clip.kind === 'proxy' && isCameraProxy(first?.path ?? '')) return { ...clip, reason: 'proxy-without-original' };
  const files = clip.essence.length + clip.companions.length + clip.sidecars.length;
  return files === 1 ? { ...clip, reason: 'single-file' } : clip;
}

function byLead(a: Recording, b: Recording): number {
  const rank = ({ files: [first] }: Recording) => LEADING.indexOf(first?.kind ?? 'original');
  return rank(a) - rank(b);
}
