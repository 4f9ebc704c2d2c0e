import type { Clip } from '../model.ts';
import { combineFacts } from './combine-facts.ts';
import type { Join } from './join-candidate.ts';

/** What was known when the parts were taken, the weakest first. */
const WEAKEST: readonly Clip['evidence'][] = ['quiet-only', 'no-writer', 'container-whole'];

/** Beyond this many parts a clip lists the files of its first and last only. */
const LISTED_PARTS = 8;

/**
 * The one clip of a take: bytes and files of all its parts, the name, unit and description of the first.
 * `parts`: the clips that the join names, as they were read. Throws a RangeError where one of them is missing.
 */
export function joinedClip(join: Join, parts: readonly Clip[]): Clip {
  const clips = join.units.map((unit) => {
    const clip = parts.find((each) => each.unit === unit);
    if (clip === undefined) throw new RangeError(`the part ${unit} of a take is missing`);
    return clip;
  });
  const [first] = clips;
  if (first === undefined) throw new RangeError('a take without parts');
  const sum = (of: (clip: Clip) => number) => clips.reduce((total, clip) => total + of(clip), 0);
  const essenceBytes = sum((clip) => clip.essenceBytes);
  const members = clips.map((clip) => (clip.state === 'not-decoded' ? null : clip));
  const known = combineFacts({ parts: join.how, separateSound: 0, essenceBytes }, members);
  const listed = clips.length > LISTED_PARTS ? [first, ...clips.slice(-1)] : clips;
  return {
    ...first,
    ...(known ?? {}),
    paths: listed.flatMap(({ paths }) => paths),
    fileCount: sum(({ fileCount }) => fileCount),
    bytes: sum(({ bytes }) => bytes),
    essenceBytes,
    essenceCount: sum(({ essenceCount }) => essenceCount),
    parts: join.how,
    groupedBy: join.reason,
    missingFrames: clips.flatMap(({ missingFrames }) => missingFrames),
    missingParts: clips.flatMap(({ missingParts }) => missingParts),
    missingNames: [...clips.flatMap(({ missingNames }) => missingNames), ...join.missing],
    readyAt: Math.max(...clips.map(({ readyAt }) => readyAt)),
    evidence: WEAKEST.find((evidence) => clips.some((clip) => clip.evidence === evidence)) ?? first.evidence,
  };
}
