import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { NO_TIES, type Ties } from '../../../src/core/intake/container/structure.ts';
import type { JoinCandidate } from '../../../src/core/intake/join-candidate.ts';
import { baseName } from '../../../src/core/intake/path-text.ts';
import type { Clip, ClipFacts } from '../../../src/core/model.ts';

export interface Given {
  facts?: Partial<ClipFacts>;
  ties?: Partial<Ties>;
  kind?: Clip['kind'];
  bytes?: number;
  name?: string;
}

/** A clip whose unit is its path, for reading. */
export function clipAt(
  path: string,
  { facts, ties, kind = 'original', bytes = 1000, name }: Given = {},
): JoinCandidate {
  return {
    unit: path,
    clip: {
      ...{ name: name ?? baseName(path), kind, paths: [path], bytes, essenceBytes: bytes },
      facts: { ...NO_FACTS, ...facts },
    },
    ties: { ...NO_TIES, ...ties },
    sampleRate: kind === 'sound' ? 48_000 : null,
  };
}

export const PICTURE: Partial<ClipFacts> = {
  ...{ codec: 'H.264', width: 3840, height: 2160, frameRate: { num: 25, den: 1 }, variableRate: false },
  ...{ audioTracks: 1, audioChannels: 2 },
};

export function soundAt(path: string, ties: Partial<Ties>, durationSeconds: number | null = 60): JoinCandidate {
  const facts = { codec: 'PCM', durationSeconds, audioTracks: 1, audioChannels: 1 };
  return clipAt(path, { kind: 'sound', ties, facts });
}

/** A picture clip of whole seconds from a timecode on. */
export function splitAt(path: string, startTimecode: string, seconds: number, given: Given = {}): JoinCandidate {
  const facts = { ...PICTURE, startTimecode, durationSeconds: seconds, frames: seconds * 25, ...given.facts };
  return clipAt(path, { bytes: 4.0e9, ...given, facts });
}
