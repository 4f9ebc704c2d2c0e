import type { Clip, ClipFacts, Kind } from '../model.ts';
import { takeOf } from './take-name.ts';

/** A proxy or render; of a camera's small picture the unit is that of its clip, and nothing was read of it. */
export interface MadeFile extends Pick<Clip, 'unit' | 'kind' | 'project' | 'name'> {
  facts: SourceFacts | null;
}

/** What shows of which clip a file is. */
type SourceFacts = Pick<ClipFacts, 'durationSeconds' | 'frameRate' | 'startTimecode' | 'reel'>;

/** A clip that something may have been made from. */
export type SourceClip = Pick<Clip, 'unit' | 'kind' | 'project' | 'name'> & { facts: SourceFacts };

export type ReplaceableReason =
  | 'not-made' // recorded, or of a kind that is never told to be made again
  | 'same-take' // it lies with the take that it is of
  | 'same-name-and-length'
  | 'same-reel-timecode-and-length'
  | 'length-unknown' // a clip of its name is there, but whether it is of it cannot be told
  | 'several-sources' // it may be of one or the other
  | 'no-source';

export interface Replaceable {
  replaceable: boolean;
  /** The unit that it can be made from again. */
  source: string | null;
  reason: ReplaceableReason;
}

const MADE: ReadonlySet<Kind> = new Set<Kind>(['proxy', 'render']);
const RECORDED: ReadonlySet<Kind> = new Set<Kind>(['original', 'sound']);

/**
 * Whether a proxy or render could be made again: only while the one clip that it is of is known and is there. `sources`: clips
 * that are present now. It is of a clip of its take; else of the one clip of its project that has its name (or its reel and
 * start timecode) and its length to the frame. In doubt it is not replaceable, and counts as what cannot be lost.
 */
export function replaceable(made: MadeFile, sources: readonly SourceClip[]): Replaceable {
  if (!MADE.has(made.kind)) return not('not-made');
  const recorded = sources.filter(({ kind }) => RECORDED.has(kind));
  const [own, another] = recorded.filter(({ unit }) => takeKey(unit) === takeKey(made.unit));
  if (own !== undefined && another === undefined) return { replaceable: true, source: own.unit, reason: 'same-take' };
  const inProject = recorded.filter(({ project }) => project !== null && project === made.project);
  return bySign(made, inProject.filter(hasNameOf(made)), 'same-name-and-length') ?? byReel(made, inProject);
}

function byReel(made: MadeFile, inProject: readonly SourceClip[]): Replaceable {
  const { reel = null, startTimecode = null } = made.facts ?? {};
  if (reel === null || startTimecode === null) return not('no-source');
  const named = inProject.filter(({ facts }) => facts.reel === reel && facts.startTimecode === startTimecode);
  return bySign(made, named, 'same-reel-timecode-and-length') ?? not('no-source');
}

/** What follows from the clips that have a sign of being the source; `null`: none of them is. */
function bySign(made: MadeFile, named: readonly SourceClip[], reason: ReplaceableReason): Replaceable | null {
  const fitting = named.filter(({ facts }) => !speaksAgainst(made.facts, facts));
  const [only, another] = fitting.filter(({ facts }) => isAsLong(made.facts, facts) === true);
  if (another !== undefined) return not('several-sources');
  if (only !== undefined && fitting.length === 1) return { replaceable: true, source: only.unit, reason };
  if (only !== undefined) return not('several-sources');
  return fitting.some(({ facts }) => isAsLong(made.facts, facts) === null) ? not('length-unknown') : null;
}

/** Names as cameras and people give them: the take's stem, without case, without `_Proxy` or a part's number. */
function hasNameOf(made: MadeFile): (source: SourceClip) => boolean {
  const stemOf = (name: string) => takeOf(name).stem.toLowerCase();
  const wanted = stemOf(made.name);
  return ({ name }) => stemOf(name) === wanted;
}

function speaksAgainst(made: SourceFacts | null, source: SourceFacts): boolean {
  const differ = (a: string | null | undefined, b: string | null) => a != null && b !== null && a !== b;
  return differ(made?.startTimecode, source.startTimecode) || isAsLong(made, source) === false;
}

/** To the frame of the source; sound, which has none, to the hundredth of a second. `null`: a length is not known. */
function isAsLong(made: SourceFacts | null, { durationSeconds, frameRate }: SourceFacts): boolean | null {
  if (made === null || made.durationSeconds === null || durationSeconds === null) return null;
  const oneFrame = frameRate === null ? 0.01 : frameRate.den / frameRate.num;
  return Math.abs(made.durationSeconds - durationSeconds) <= oneFrame;
}

/** The unit's key, without the file that tells several clips of a unit apart. */
export function takeKey(unit: string): string {
  return unit.replace(/(\.\*|\]\.[^#/]+)#.*$/s, '$1');
}

function not(reason: ReplaceableReason): Replaceable {
  return { replaceable: false, source: null, reason };
}
