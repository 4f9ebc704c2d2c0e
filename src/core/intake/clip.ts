import type { Clip, ClipFacts, Instant } from '../model.ts';
import type { GroupedClip } from './group.ts';

/** What is known of a clip that no reader could read: nothing. Its bytes count all the same. */
export const NO_FACTS: ClipFacts = {
  container: null,
  codec: null,
  profile: null,
  width: null,
  height: null,
  frameRate: null,
  variableRate: null,
  scan: null,
  bitDepth: null,
  chroma: null,
  durationSeconds: null,
  frames: null,
  videoBytes: null,
  videoBitrate: null,
  overallBitrate: null,
  startTimecode: null,
  dropFrame: null,
  reel: null,
  camera: null,
  recordedAt: null,
  recordedAtBasis: null,
  audioTracks: null,
  audioChannels: null,
};

/** Beyond this many files a clip lists its first and last essence file only, and its sidecars. */
const LISTED_FILES = 8;

/**
 * Makes a clip of grouped files and what the probe told of the first one. `facts` is `null` when no reader knows the
 * format: then the clip is `not-decoded`.
 */
export function makeClip(
  grouped: GroupedClip,
  facts: ClipFacts | null,
  taken: { at: Instant; evidence: Clip['evidence'] },
): Clip {
  const [first] = grouped.essence;
  if (first === undefined) throw new RangeError('a clip without essence');
  return {
    volume: first.volume,
    unit: grouped.unit,
    area: first.area,
    project: first.project,
    kind: grouped.kind,
    name: grouped.name,
    paths: listedPaths(grouped),
    fileCount: grouped.essence.length + grouped.sidecars.length,
    bytes: grouped.bytes,
    essenceBytes: grouped.essenceBytes,
    facts: facts === null ? NO_FACTS : isFrames(grouped) ? sequenceFacts(facts, grouped) : facts,
    state: facts === null ? 'not-decoded' : 'ready',
    missingFrames: grouped.missingFrames,
    readyAt: taken.at,
    evidence: taken.evidence,
  };
}

/** Numbered frames: their names carry the range (`name_[0001-0024].dpx`); separate sound never does. */
function isFrames({ essence, name }: GroupedClip): boolean {
  return essence.length > 1 && /\[\d+-\d+\]/.test(name);
}

/** The probe read one frame; length and bytes are those of all frames. Without a frame rate the length is not known. */
function sequenceFacts(frame: ClipFacts, { essence, essenceBytes }: GroupedClip): ClipFacts {
  const frames = essence.length;
  const { frameRate } = frame;
  const durationSeconds = frameRate === null ? null : (frames * frameRate.den) / frameRate.num;
  const bitrate = durationSeconds === null ? null : (essenceBytes * 8) / durationSeconds;
  return {
    ...frame,
    frames,
    durationSeconds,
    videoBytes: essenceBytes,
    videoBitrate: bitrate,
    overallBitrate: bitrate,
  };
}

function listedPaths({ essence, sidecars }: GroupedClip): string[] {
  const paths = essence.map(({ path }) => path);
  const [first] = paths;
  const last = paths.at(-1);
  const listed = paths.length > LISTED_FILES && first !== undefined && last !== undefined ? [first, last] : paths;
  return [...listed, ...sidecars.map(({ path }) => path)];
}
