import type { Clip, ClipFacts, Instant } from '../model.ts';
import { bitRate } from './bit-rate.ts';
import { NO_TIES } from './container/structure.ts';
import type { KnownFacts } from './fact-sources.ts';
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

/** All that is known of what no reader could read. */
export const NOTHING_KNOWN: KnownFacts = {
  facts: NO_FACTS,
  sources: {},
  disagreements: [],
  troubles: [],
  ties: NO_TIES,
  sampleRate: null,
};

/** Beyond this many files a clip lists its first and last essence file only, and what lies beside. */
const LISTED_FILES = 8;

export interface Taken {
  at: Instant;
  evidence: Clip['evidence'];
  /** Why nothing is known of it, in words. */
  troubles?: readonly string[];
}

/**
 * Makes a clip of grouped files and what was read of them. `known` is `null` when no reader knows the format: then the clip is
 * `not-decoded`.
 */
export function makeClip(grouped: GroupedClip, known: KnownFacts | null, taken: Taken): Clip {
  const [first] = grouped.essence;
  if (first === undefined) throw new RangeError('a clip without essence');
  return {
    ...(known ?? { ...NOTHING_KNOWN, troubles: taken.troubles ?? [] }),
    volume: first.volume,
    unit: grouped.unit,
    area: first.area,
    project: first.project,
    kind: grouped.kind,
    name: grouped.name,
    paths: listedPaths(grouped),
    fileCount: grouped.essence.length + grouped.companions.length + grouped.sidecars.length,
    bytes: grouped.bytes,
    essenceBytes: grouped.essenceBytes,
    facts: known === null ? NO_FACTS : grouped.parts === 'frames' ? sequenceFacts(known.facts, grouped) : known.facts,
    state: known === null ? 'not-decoded' : 'ready',
    essenceCount: grouped.essence.length,
    parts: grouped.parts,
    groupedBy: grouped.reason,
    missingFrames: grouped.missingFrames,
    missingParts: grouped.missingParts,
    missingNames: [],
    readyAt: taken.at,
    evidence: taken.evidence,
  };
}

/** One frame was read; length and bytes are those of all frames. Without a frame rate the length is not known. */
function sequenceFacts(frame: ClipFacts, { essence, essenceBytes }: GroupedClip): ClipFacts {
  const frames = essence.length;
  const { frameRate } = frame;
  const durationSeconds = frameRate === null ? null : (frames * frameRate.den) / frameRate.num;
  const bitrate = bitRate(essenceBytes, durationSeconds);
  return {
    ...frame,
    frames,
    durationSeconds,
    videoBytes: essenceBytes,
    videoBitrate: bitrate,
    overallBitrate: bitrate,
  };
}

function listedPaths({ essence, companions, sidecars }: GroupedClip): string[] {
  const paths = essence.map(({ path }) => path);
  const [first] = paths;
  const last = paths.at(-1);
  const listed = paths.length > LISTED_FILES && first !== undefined && last !== undefined ? [first, last] : paths;
  return [...listed, ...[...companions, ...sidecars].map(({ path }) => path)];
}
