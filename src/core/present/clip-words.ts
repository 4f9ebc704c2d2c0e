import type { Disagreement, FactName, FactSource } from '../intake/fact-sources.ts';
import type { ClipState, GroupReason, JoinReason, NumberRange, PartsRelation } from '../model.ts';

/* What is to be said of a clip beyond its figures, in sentences. */

/** Why files are one clip. */
const GROUPED_WORDS: Record<GroupReason | JoinReason, string> = {
  'single-file': 'one file',
  'same-stem': 'they have one name',
  'numbered-frames': 'numbered frames',
  'chapter-number': 'by their chapter numbers',
  'span-number': 'by their part numbers',
  'lens-number': 'by their lens numbers',
  'track-number': 'by their track numbers',
  'card-layout': "by their places in the card's layout",
  'proxy-without-original': 'a small picture; what it is of is not here',
  'one-material-package': 'they name one material package',
  'playlist-continuation': "by the card's playlist",
  'card-relation': "by the card's clip lists",
  'one-sound-family': 'the recorder wrote them at once',
  'one-sound-take': 'one scene and take, one start, one length',
  'sound-goes-on': 'each begins on the sample after the one before',
  'gapless-split': 'split at a size limit; each begins on the next frame',
  'frames-go-on': 'each folder goes on with the next frame',
  'sound-of-frames': 'sound of the name and length of the frames',
};

const PARTS_WORDS: Record<Exclude<PartsRelation, 'frames'>, string> = {
  spans: 'files that follow one another',
  lenses: 'lenses',
  tracks: 'files recorded at once',
};

const FACT_WORDS: Partial<Record<FactName, string>> = {
  frameRate: 'frame rate',
  bitDepth: 'bits per sample',
  chroma: 'chroma subsampling',
  durationSeconds: 'length in seconds',
  videoBytes: 'bytes of picture',
  startTimecode: 'start timecode',
  recordedAt: 'recorded at',
  audioTracks: 'sound tracks',
  audioChannels: 'sound channels',
};

/** A disagreement, with which of the two counts here. */
export interface SettledDisagreement extends Disagreement {
  counts: FactSource | null;
}

/** What a clip is looked at for here; paths and names as text. */
export interface ToldClip {
  state: ClipState;
  essenceCount: number;
  parts: PartsRelation | null;
  groupedBy: GroupReason | JoinReason;
  missingFrames: readonly NumberRange[];
  missingParts: readonly NumberRange[];
  missingNames: readonly string[];
}

type Lacks = Pick<ToldClip, 'missingFrames' | 'missingParts' | 'missingNames'>;

/** `frames missing: 7, 9-11`, `parts missing: 2`; nothing when nothing is. */
export function lackWords({ missingFrames, missingParts, missingNames }: Lacks): string[] {
  const lack = (what: string, missing: readonly string[]) => {
    const named = missing.slice(0, 5).join(', ');
    return missing.length === 0 ? [] : [`${what} missing: ${named}${missing.length > 5 ? ' and more' : ''}`];
  };
  return [
    ...lack('frames', missingFrames.map(rangeText)),
    ...lack('parts', [...missingParts.map(rangeText), ...missingNames]),
  ];
}

/** The same, each with what to do. */
export function lackSentences(clip: Lacks): string[] {
  return lackWords(clip).map((words) => `${words}. Copy them again from the card; keep the card.`);
}

/** `3 files that follow one another (by their chapter numbers)`; `null` for one file, and for numbered frames. */
export function partsSentence({ parts, essenceCount, groupedBy }: ToldClip): string | null {
  if (parts === null || parts === 'frames') return null;
  return `${essenceCount} ${PARTS_WORDS[parts]}: ${GROUPED_WORDS[groupedBy]}`;
}

/** `frame rate: the container says 25, the media reader 24; the container's counts`. */
export function disagreementSentence({ fact, structure, reader, counts }: SettledDisagreement): string {
  const whose = counts === 'reader' ? "the media reader's" : "the container's";
  return `${FACT_WORDS[fact] ?? fact}: the container says ${structure}, the media reader ${reader}; ${whose} counts`;
}

function rangeText({ first, last }: NumberRange): string {
  return first === last ? `${first}` : `${first}-${last}`;
}
