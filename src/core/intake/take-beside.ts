import type { FileRecord, PathText } from '../model.ts';
import { RAW } from './card-layout.ts';
import { baseName, stem } from './path-text.ts';
import { type GroupedClip, withBeside } from './take-clip.ts';
import { takeOf } from './take-name.ts';

/**
 * A camera's small picture goes with the original of its name, or the only one there is: with two to choose from it stays a
 * clip by itself. Beside raw, what the camera recorded in another codec goes with it.
 */
export function withCompanions(clips: readonly GroupedClip[]): GroupedClip[] {
  const owners = new Map(clips.map((clip) => [clip, ownerOf(clip, clips)]));
  return clips
    .filter((clip) => owners.get(clip) === null)
    .map((clip) => {
      const companions = clips.filter((each) => owners.get(each) === clip).flatMap(({ essence }) => essence);
      return withBeside(clip, companions, clip.sidecars);
    });
}

function ownerOf(clip: GroupedClip, clips: readonly GroupedClip[]): GroupedClip | null {
  const originals = clips.filter(({ kind }) => kind === 'original');
  const raw = originals.filter((each) => recordingName(each) === RAW);
  const isBesideRaw = raw.length > 0 && !raw.includes(clip) && takeOf(leadOf(clip)).by === 'span-number';
  if (clip.kind !== 'proxy' && !isBesideRaw) return null;
  const leading = raw.length > 0 ? raw : originals;
  const named = leading.filter((each) => recordingName(each) === recordingName(clip));
  const [only, second] = named.length > 0 ? named : leading;
  return second === undefined ? (only ?? null) : null;
}

/** A sidecar goes with the clip that has a file of its name (`A001.mp4.xmp`, `GH010123.THM`), every other with the first. */
export function withSidecars(clips: readonly GroupedClip[], sidecars: readonly FileRecord[]): GroupedClip[] {
  const owners = new Map(sidecars.map((sidecar) => [sidecar, clipOfSidecar(sidecar, clips)]));
  return clips.map((clip) =>
    withBeside(
      clip,
      clip.companions,
      sidecars.filter((sidecar) => owners.get(sidecar) === clip),
    ),
  );
}

function clipOfSidecar({ path }: FileRecord, clips: readonly GroupedClip[]): GroupedClip | undefined {
  const name = baseName(path).toLowerCase();
  const own = stem(path).toLowerCase();
  const withFile = (isOfIt: (file: PathText) => boolean) =>
    clips.find(({ essence, companions }) => [...essence, ...companions].some((file) => isOfIt(file.path)));
  return (
    withFile((file) => name.startsWith(`${baseName(file).toLowerCase()}.`)) ??
    withFile((file) => stem(file).toLowerCase() === own) ??
    clips[0]
  );
}

function recordingName(clip: GroupedClip): string {
  return takeOf(leadOf(clip)).recording;
}

function leadOf({ essence: [first] }: GroupedClip): PathText {
  return first?.path ?? '';
}
