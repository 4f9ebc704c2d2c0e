import type { RawProbe } from '../root-port.ts';
import { NO_TIES, type SoundTrack, type Structure } from './container/structure.ts';
import type { KnownFacts } from './fact-sources.ts';
import { type FileHint, isStillFile, readerFacts } from './facts.ts';
import { mergeFacts } from './merge-facts.ts';
import { tracksOf } from './raw-track.ts';
import { type StructureFacts, structureFacts } from './structure-facts.ts';

const ESSENCE_TYPES = ['Video', 'Image', 'Audio'] as const;

/**
 * What is known of one file: the container's own structure and the media reader's answer, put together. `null`: neither of
 * them found picture or sound in it.
 */
export function knowFile(raw: RawProbe, hint: FileHint): KnownFacts | null {
  const structure = raw.structure !== null && hasEssence(raw.structure) ? raw.structure : null;
  const reader = ESSENCE_TYPES.some((type) => tracksOf(raw, type).length > 0) ? raw : null;
  if (structure === null && reader === null) return null;
  const own = structure === null ? null : wholeFrame(structureFacts(structure), hint);
  const merged = mergeFacts(
    own !== null && isStillFile(hint) ? ofStill(own, hint) : own,
    reader === null ? null : readerFacts(reader, hint),
    hint.sizeBytes,
  );
  return {
    ...merged,
    troubles: [...(raw.structure?.troubles ?? []), ...(raw.readerTrouble === null ? [] : [raw.readerTrouble])],
    ties: structure?.ties ?? NO_TIES,
    sampleRate: structure?.tracks.find((track): track is SoundTrack => track.type === 'sound')?.sampleRate ?? null,
  };
}

function hasEssence({ tracks }: Structure): boolean {
  return tracks.some(({ type }) => type !== 'other');
}

/** A frame in a file of its own takes the whole file, header and all: that is what is read to show it. */
function wholeFrame(facts: StructureFacts, { sizeBytes }: FileHint): StructureFacts {
  return facts.frames === 1 && facts.durationSeconds === null ? { ...facts, videoBytes: sizeBytes } : facts;
}

/** Of a still in a movie container: what it tells of time is about the container. */
function ofStill(facts: StructureFacts, { sizeBytes }: FileHint): StructureFacts {
  const timeless = { frameRate: null, variableRate: null, durationSeconds: null };
  return { ...facts, ...timeless, frames: 1, videoBytes: sizeBytes, startTimecode: null, dropFrame: null };
}
