import { type Join, type JoinCandidate, tracksOf } from './join-candidate.ts';
import { chainsOf, type Link } from './join-chain.ts';
import { baseName, dirName, joinPath, stem } from './path-text.ts';

/** A recorder that starts a new folder every so many frames, and counts on. Source: a disk recorder's manual. */
const FRAMES_A_FOLDER = 20_000;
const COUNTED_FOLDER = /^(.+_)(\d{3})$/s;

/** A sequence's name and the range in it: `scan_[0001-0024].dpx`. */
const RANGE = /^(.*)\[(\d+)-(\d+)\](.*)$/s;

interface Sequence {
  candidate: JoinCandidate;
  folder: string;
  prefix: string;
  digits: number;
  first: number;
  last: number;
  suffix: string;
}

/**
 * One recording in Clip_023_000, Clip_023_001, ...: the next folder by number holds the same names and begins with the next
 * frame, and the folder before is full (20,000 frames, or up to a multiple of them). The name alone would not do: a reel of
 * 30,000 frames may lie in a folder called reel_001.
 */
export function brokenFolders(candidates: readonly JoinCandidate[]): Join[] {
  const sequences = candidates.flatMap(sequenceOf);
  const byFolder = Map.groupBy(sequences, ({ folder }) => folder);
  const links = sequences.flatMap((one): Link[] =>
    (byFolder.get(folderAfter(one.folder) ?? '') ?? [])
      .filter((next) => goesOn(one, next))
      .map((next): Link => [one.candidate.unit, next.candidate.unit]),
  );
  return chainsOf(links).map((units) => ({ units, how: 'spans', reason: 'frames-go-on', missing: [] }));
}

function goesOn(one: Sequence, next: Sequence): boolean {
  const named = next.suffix === one.suffix && next.digits === one.digits && sharedName(one) === sharedName(next);
  const full = one.last - one.first + 1 === FRAMES_A_FOLDER || next.first % FRAMES_A_FOLDER <= 1;
  return named && full && next.first === one.last + 1;
}

/** What stands before the number, without the folder's own name. */
function sharedName({ folder, prefix }: Sequence): string {
  const name = baseName(folder);
  return prefix.startsWith(name) ? `[folder]${prefix.slice(name.length)}` : prefix;
}

function folderAfter(folder: string): string | null {
  const [, name = '', digits] = COUNTED_FOLDER.exec(baseName(folder)) ?? [];
  return digits === undefined
    ? null
    : joinPath(dirName(folder), `${name}${String(Number(digits) + 1).padStart(3, '0')}`);
}

/**
 * Scanned film: REEL_DPX/REEL_0086400.dpx and REEL.wav, or dpx/reel_0086400.dpx and reel.wav above it (as in public reports
 * of such trees). The sound has the frames' name and lies in their folder or the one above, and is as long to the frame.
 */
export function soundOfFrames(candidates: readonly JoinCandidate[]): Join[] {
  const frames = candidates.flatMap(sequenceOf);
  const sounds = candidates.filter(({ clip }) => clip.kind === 'sound');
  const pairs = frames.flatMap((one) =>
    sounds.filter((sound) => isSoundOf(sound, one)).map((sound) => [one.candidate, sound] as const),
  );
  const count = ({ unit }: JoinCandidate) => pairs.filter((pair) => pair.some((each) => each.unit === unit)).length;
  return pairs
    .filter((pair) => pair.every((each) => count(each) === 1))
    .flatMap((pair) => tracksOf(pair, 'sound-of-frames') ?? []);
}

function isSoundOf({ clip: sound }: JoinCandidate, { candidate: { clip }, folder, prefix }: Sequence): boolean {
  const [path = ''] = sound.paths;
  const name = prefix.replace(/[._ -]+$/, '').toLowerCase();
  const { frameRate, durationSeconds } = clip.facts;
  if (name === '' || frameRate === null || durationSeconds === null || sound.facts.durationSeconds === null)
    return false;
  const near = dirName(path) === folder || (folder !== '' && dirName(path) === dirName(folder));
  const oneFrame = frameRate.den / frameRate.num;
  return (
    near && stem(path).toLowerCase() === name && Math.abs(sound.facts.durationSeconds - durationSeconds) <= oneFrame
  );
}

function sequenceOf(candidate: JoinCandidate): Sequence[] {
  const { name, kind, paths } = candidate.clip;
  const match = RANGE.exec(name);
  if (match === null || kind === 'sound') return [];
  const [, prefix = '', first = '', last = '', suffix = ''] = match;
  const numbers = { digits: first.length, first: Number(first), last: Number(last) };
  return [{ candidate, folder: dirName(paths[0] ?? ''), prefix, suffix, ...numbers }];
}
