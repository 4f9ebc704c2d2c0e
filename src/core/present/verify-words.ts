import { formatBytes, formatCount } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import { shortTime } from './sentences.ts';
import type { BadCopySnapshot, VerifyFigures, VerifySnapshot } from './snapshot-verify.ts';

/** How it came out, in a sentence. */
export function verifySummary(run: VerifyFigures): string {
  const { state, why, differing, unread, gone } = run;
  const what = `The copies of ${ofWhat(run)} on ${run.shelf}`;
  if (state === 'refused') return `${what} were not read: ${why ?? ''}`;
  const read = `${formatCount(run.files, 'file')} read (${formatBytes(run.bytes)})`;
  const found = [
    ...(differing === 0 ? [] : [`${differing} ${differing === 1 ? 'differs' : 'differ'} from what was written`]),
    ...(gone === 0 ? [] : [`${gone} ${gone === 1 ? 'is' : 'are'} gone`]),
    ...(unread === 0 ? [] : [`${unread} could not be read`]),
  ];
  const verdict = found.length > 0 ? found.join(', ') : run.files === 0 ? 'nothing is known' : 'all as written';
  if (state === 'done') return `${what}: ${read}, ${verdict}.`;
  const left = run.allFiles === null ? '' : `, ${formatCount(Math.max(0, run.allFiles - run.files), 'file')} not read`;
  const ended = state === 'broken' ? `reading broke off: ${why ?? ''}` : 'reading was stopped';
  return `${what}: ${ended}${state === 'broken' ? ' ' : '; '}${read}${left}; of those read ${verdict}.`;
}

/** How far it is. */
export function verifyProgress(run: VerifyFigures): string {
  const { state, files, allFiles, bytes, allBytes, earlierFiles } = run;
  if (state === 'waiting') return 'waits until no backup is under way';
  if (state === 'looking' || allFiles === null || allBytes === null) return 'the shelf is looked at';
  const now = Math.max(bytes, Math.min(allBytes, run.movedBytes));
  const share = allBytes === 0 ? '' : `, ${Math.floor((100 * now) / allBytes)} %`;
  const earlier = earlierFiles === 0 ? '' : ` (${earlierFiles} of them before it was ended last time)`;
  const held = state === 'paused' ? '; it waits, for playback goes first' : '';
  return `${files} of ${formatCount(allFiles, 'file')} read${earlier}, ${formatBytes(allBytes)} in all${share}${held}${soFar(run)}`;
}

function soFar({ differing, unread, gone }: VerifyFigures): string {
  return differing + unread + gone === 0
    ? ''
    : `; not as written so far: ${differing} differ, ${gone} gone, ${unread} not readable`;
}

/** For a screen: what goes on, or how the last one came out. */
export function verifySentence(run: VerifySnapshot, at: IsoTime): string {
  const isGoing = ['waiting', 'looking', 'reading', 'paused'].includes(run.state);
  if (isGoing) return `The copies of ${ofWhat(run)} on ${run.shelf} are being read again: ${verifyProgress(run)}.`;
  const when = run.endedAt === null ? '' : `Ended ${shortTime(run.endedAt, at)}. `;
  const again = run.state === 'stopped' || run.state === 'broken' ? ` ${quotedCommand(run)} goes on from there.` : '';
  return `${when}${verifySummary(run)}${again}`;
}

function quotedCommand({ shelf, project }: VerifyFigures): string {
  return `"headroomd backup verify ${shelf}${project === null ? '' : ` --project '${project}'`}"`;
}

/** One copy that is not what was written: both files, which changed, and where a good one lies. */
export function badCopySentence(shelf: string, volume: string, bad: BadCopySnapshot): string {
  const how = bad.state === 'unread' ? 'cannot be read' : 'is not what was written';
  return `${shelf}: ${bad.path} ${how}. ${SOURCE_WORDS[bad.sourceIs]} (${volume}: ${bad.source}). ${elsewhereWords(bad.elsewhere)}`;
}

export function elsewhereWords(elsewhere: BadCopySnapshot['elsewhere']): string {
  if (elsewhere === null) return 'No other copy of it is known.';
  const { shelf, path, verified } = elsewhere;
  return `Another copy lies on ${shelf} (${path})${verified ? ', read back from its medium' : ', of which it is not sure that it was read from the medium'}.`;
}

/** How a file on the working volume was found when its copy was bad. */
export const SOURCE_WORDS = {
  'as-copied': 'The file on the working volume was read again and is what was copied',
  differs: 'The file on the working volume was read again and is not what was copied either',
  unread: 'The file on the working volume is not there or cannot be read',
  unknown: 'The file on the working volume was not read again yet',
} as const;

function ofWhat({ volume, project }: VerifyFigures): string {
  return project === null ? volume : `${project} (${volume})`;
}
