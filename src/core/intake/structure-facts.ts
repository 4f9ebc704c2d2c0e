import type { ClipFacts } from '../model.ts';
import { codecOfId } from './codec-id.ts';
import type { PictureTrack, SoundTrack, StartTimecode, Structure, StructureTrack } from './container/structure.ts';
import { formatTimecode, fromFrameNumber } from './timecode.ts';

/** Facts that a container's own structure tells. What it does not tell is `null`; rates over time are left to who asks. */
export type StructureFacts = Omit<ClipFacts, 'overallBitrate' | 'videoBitrate' | 'profile'>;

/** Facts of one file from its structure. A picture that stands still (one frame, no duration) has no rate. */
export function structureFacts(structure: Structure): StructureFacts {
  const picture = structure.tracks.find(isPicture);
  const sounds = structure.tracks.filter(isSound);
  const [sound] = sounds;
  const timecode = firstLabel(structure.timecodes);
  return {
    container: structure.container,
    codec: codecOfId(structure.container, (picture ?? sound)?.codecId ?? null),
    ...pictureFacts(picture),
    durationSeconds: picture === undefined ? (sound?.durationSeconds ?? null) : picture.durationSeconds,
    bitDepth: picture === undefined ? (sound?.bitDepth ?? null) : picture.bitDepth,
    startTimecode: timecode === null ? null : formatTimecode(timecode),
    dropFrame: timecode?.drop ?? null,
    reel: structure.reel,
    camera: structure.camera,
    recordedAt: structure.createdAt,
    recordedAtBasis: structure.createdAt === null ? null : structure.container === 'BWF' ? 'sound-header' : 'container',
    audioTracks: sounds.length,
    audioChannels: channelsOf(sounds),
  };
}

function pictureFacts(
  picture: PictureTrack | undefined,
): Pick<ClipFacts, 'width' | 'height' | 'frameRate' | 'variableRate' | 'scan' | 'chroma' | 'frames' | 'videoBytes'> {
  if (picture === undefined) {
    const none = { width: null, height: null, frameRate: null, variableRate: null };
    return { ...none, scan: null, chroma: null, frames: null, videoBytes: null };
  }
  const { width, height, frameRate, variableRate, scan, chroma, frames, bytes } = picture;
  return { width, height, frameRate, variableRate, scan, chroma, frames, videoBytes: bytes };
}

/** The label of the timecode to believe. */
function firstLabel([first]: readonly StartTimecode[]): ReturnType<typeof fromFrameNumber> {
  return first === undefined ? null : fromFrameNumber(first.frame, first.rate, first.drop);
}

function channelsOf(sounds: readonly SoundTrack[]): number | null {
  let channels = 0;
  for (const sound of sounds) {
    if (sound.channels === null) return null;
    channels += sound.channels;
  }
  return channels;
}

function isPicture(track: StructureTrack): track is PictureTrack {
  return track.type === 'picture';
}

function isSound(track: StructureTrack): track is SoundTrack {
  return track.type === 'sound';
}
