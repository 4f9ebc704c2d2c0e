import type { FileRecord, GroupReason, Kind, NumberRange, PartsRelation } from '../model.ts';
import { baseName } from './path-text.ts';

/** A clip as its files show it, before anything was read. */
export interface GroupedClip {
  /** The unit's key; when a unit holds several clips, all but the first have their file's name behind it. */
  unit: string;
  /** The name of its first essence file, or `name_[0001-0024].dpx`. */
  name: string;
  kind: Kind;
  /** In playing order. First is the one to probe: the picture, or the first frame by number. Last is separate sound. */
  essence: FileRecord[];
  /** So many of the essence, the last, are separate sound of a picture: they run along with all of it. */
  separateSound: number;
  /** How the essence relates: frames and spans follow each other in time, lenses and tracks run at once. `null`: one file. */
  parts: PartsRelation | null;
  /** Numbers of parts, from 1 in playing order, that must be there by the names of the others. */
  missingParts: NumberRange[];
  /**
   * What a camera recorded of the same take beside the essence, never a clip of its own: small pictures (kind `proxy`), and
   * beside raw a recording in another codec, which keeps its kind.
   */
  companions: FileRecord[];
  sidecars: FileRecord[];
  missingFrames: NumberRange[];
  /** Essence, companions and sidecars together. */
  bytes: number;
  essenceBytes: number;
  reason: GroupReason;
}

export interface GroupedUnit {
  clips: GroupedClip[];
  /** Files that belong to no clip: stills, project files, sidecars without essence. */
  loose: FileRecord[];
}

/** All files of a grouped unit, each once, with the kinds that the group shows. */
export function filesOf({ clips, loose }: GroupedUnit): FileRecord[] {
  return [...clips.flatMap(({ essence, companions, sidecars }) => [...essence, ...companions, ...sidecars]), ...loose];
}

/** A clip of essence files alone; the kind is that of the first. */
export function clipOf(
  essence: FileRecord[],
  more: Pick<GroupedClip, 'parts' | 'reason'> & Partial<GroupedClip>,
): GroupedClip {
  const [first] = essence;
  if (first === undefined) throw new RangeError('a clip without essence');
  const bytes = sumBytes(essence);
  return {
    unit: first.unit,
    name: baseName(first.path),
    kind: first.kind,
    essence,
    separateSound: 0,
    missingParts: [],
    companions: [],
    sidecars: [],
    missingFrames: [],
    bytes,
    essenceBytes: bytes,
    ...more,
  };
}

/** The clip with these files beside its essence, whatever it had before. */
export function withBeside(clip: GroupedClip, companions: FileRecord[], sidecars: FileRecord[]): GroupedClip {
  return { ...clip, companions, sidecars, bytes: clip.essenceBytes + sumBytes(companions) + sumBytes(sidecars) };
}

/** The record with the kind that its group shows. */
export function withKind(file: FileRecord, kind: Kind): FileRecord {
  return file.kind === kind ? file : { ...file, kind };
}

function sumBytes(files: readonly FileRecord[]): number {
  return files.reduce((sum, { size }) => sum + size, 0);
}
