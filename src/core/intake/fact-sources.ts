import type { Clip, ClipFacts } from '../model.ts';

/** Names of facts. */
export type FactName = keyof ClipFacts;

/**
 * Where a fact comes from: the container's own structure, the media reader (which knows codecs), both of them alike, the file
 * itself (its size), or other facts (bytes over seconds).
 */
export type FactSource = 'structure' | 'reader' | 'both' | 'derived';

/** Of each fact that is known. */
export type FactSources = Partial<Record<FactName, FactSource>>;

/** What the two say of one fact, where they do not agree. Which of them counts is in the facts themselves. */
export interface Disagreement {
  fact: FactName;
  /** In words, as a person reads it. */
  structure: string;
  reader: string;
}

/** All that is known of what was recorded, and on what that rests. */
export type KnownFacts = Pick<Clip, 'facts' | 'sources' | 'disagreements' | 'troubles' | 'ties' | 'sampleRate'>;
