import type { ClipFacts } from '../model.ts';
import { bitRate } from './bit-rate.ts';
import type { KnownFacts } from './fact-sources.ts';
import type { GroupedClip } from './group.ts';

/** What was read of each essence file that is to be read, in playing order; `null`: no reader knows it. */
export type Members = readonly (KnownFacts | null)[];

/**
 * One set of facts for the files of one take. What describes the picture is that of the first file; what adds up does: time,
 * frames and bytes of files that follow each other, bytes of lenses, sound tracks of files that run at once. Where a part could
 * not be read, sums over all parts are not known. `null`: the first could not be read, so that nothing is known of the clip.
 */
export function combineFacts(
  group: Pick<GroupedClip, 'parts' | 'separateSound' | 'essenceBytes'>,
  members: Members,
): KnownFacts | null {
  const [first, ...others] = members;
  if (first === undefined || first === null) return null;
  if (others.length === 0) return first;
  const facts = withRates(factsOfAll(group, first.facts, members), group.essenceBytes);
  const unread = members.filter((member) => member === null).length;
  return {
    ...first,
    facts,
    disagreements: members.flatMap((member) => member?.disagreements ?? []),
    troubles: [
      ...new Set(members.flatMap((member) => member?.troubles ?? [])),
      ...(unread === 0 ? [] : [`${unread} of its ${members.length} files could not be read`]),
    ],
  };
}

function factsOfAll(
  { parts, separateSound }: Pick<GroupedClip, 'parts' | 'separateSound'>,
  first: ClipFacts,
  members: Members,
): ClipFacts {
  const playing = members.slice(0, members.length - separateSound);
  const sound = members.slice(members.length - separateSound);
  if (parts === 'spans') return withSound(spanFacts(first, playing), sound);
  if (parts === 'lenses') return withSound({ ...first, videoBytes: sumOf(playing, 'videoBytes') }, sound);
  return trackFacts(first, members);
}

/** Rates are bytes over seconds; of a picture that stands still there are none. */
function withRates(facts: ClipFacts, essenceBytes: number): ClipFacts {
  const { durationSeconds, videoBytes } = facts;
  return {
    ...facts,
    videoBitrate: bitRate(videoBytes, durationSeconds),
    overallBitrate: bitRate(essenceBytes, durationSeconds),
  };
}

function spanFacts(first: ClipFacts, parts: Members): ClipFacts {
  return {
    ...first,
    durationSeconds: sumOf(parts, 'durationSeconds'),
    frames: sumOf(parts, 'frames'),
    videoBytes: sumOf(parts, 'videoBytes'),
    variableRate: parts.some((part) => part?.facts.variableRate === true) ? true : first.variableRate,
  };
}

/** Files that run at once: as long as the longest of them, with the sound of all. */
function trackFacts(first: ClipFacts, tracks: Members): ClipFacts {
  const lengths = tracks.flatMap((track) => track?.facts.durationSeconds ?? []);
  const longest = first.width === null && lengths.length > 0 ? Math.max(...lengths) : first.durationSeconds;
  return withSound({ ...first, durationSeconds: longest }, tracks.slice(1));
}

function withSound(facts: ClipFacts, sound: Members): ClipFacts {
  const add = (fact: 'audioTracks' | 'audioChannels') => {
    const more = sumOf(sound, fact);
    return facts[fact] === null || more === null ? null : facts[fact] + more;
  };
  return { ...facts, audioTracks: add('audioTracks'), audioChannels: add('audioChannels') };
}

type Countable = 'durationSeconds' | 'frames' | 'videoBytes' | 'audioTracks' | 'audioChannels';

/** `null` as soon as one of them does not have it. */
function sumOf(members: Members, fact: Countable): number | null {
  let sum = 0;
  for (const member of members) {
    const value = member?.facts[fact] ?? null;
    if (value === null) return null;
    sum += value;
  }
  return sum;
}
