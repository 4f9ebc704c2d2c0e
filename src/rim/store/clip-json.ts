import { NO_FACTS } from '../../core/intake/clip.ts';
import { NO_TIES } from '../../core/intake/container/structure.ts';
import type { FactName, FactSource, FactSources } from '../../core/intake/fact-sources.ts';
import type { Clip } from '../../core/model.ts';

/*
 * A clip as the catalogue keeps it: a million of them are kept, so what is as it mostly is is left out, and where facts come
 * from is a letter each. The facts themselves are all there: queries look into them.
 */

/** What a clip has unless its JSON says otherwise; also of those that were kept before there was such a field. */
const MOSTLY = {
  disagreements: [],
  troubles: [],
  essenceCount: 1,
  parts: null,
  groupedBy: 'single-file',
  missingFrames: [],
  missingParts: [],
  missingNames: [],
  ties: NO_TIES,
  sampleRate: null,
} as const satisfies Partial<Clip>;

const MOSTLY_TEXT = Object.entries(MOSTLY).map(([key, value]) => [key, JSON.stringify(value)] as const);

/** In this order, one letter for each fact. A new fact comes at the end. */
const FACTS = Object.keys(NO_FACTS) as FactName[];
const LETTERS: Readonly<Record<FactSource, string>> = { structure: 's', reader: 'r', both: 'b', derived: 'd' };
const SOURCES = new Map(Object.entries(LETTERS).map(([source, letter]) => [letter, source as FactSource]));

export function clipToJson(clip: Clip): string {
  const kept: Record<string, unknown> = { ...clip, sources: packSources(clip.sources) };
  for (const [key, text] of MOSTLY_TEXT) if (JSON.stringify(kept[key]) === text) delete kept[key];
  return JSON.stringify(kept);
}

export function clipFromJson(json: string): Clip {
  const kept = JSON.parse(json);
  return { ...MOSTLY, ...kept, sources: unpackSources(kept.sources ?? '') };
}

function packSources(sources: FactSources): string {
  const letters = FACTS.map((fact) => {
    const source = sources[fact];
    return source === undefined ? '-' : LETTERS[source];
  });
  return letters.join('').replace(/-+$/, '');
}

function unpackSources(letters: string): FactSources {
  const sources: FactSources = {};
  for (const [at, fact] of FACTS.entries()) {
    const source = SOURCES.get(letters[at] ?? '-');
    if (source !== undefined) sources[fact] = source;
  }
  return sources;
}
