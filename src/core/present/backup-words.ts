import { formatBytes, formatCount } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import { dayWords } from './overrun-words.ts';
import { shortTime } from './sentences.ts';
import type { BackupSnapshot, OnlyOnShelfSnapshot, ShelfSnapshot } from './snapshot-backups.ts';

/** What lies on a shelf, and whether it can take more. */
export function shelfSentence(shelf: ShelfSnapshot, at: IsoTime): string {
  const { state, stateDetail, totalBytes, freeBytes, lastSeen, rotate } = shelf;
  const room =
    totalBytes === null || freeBytes === null ? '' : `${formatBytes(freeBytes)} of ${formatBytes(totalBytes)} left`;
  const seen = lastSeen === null ? 'never seen yet' : `last seen ${shortTime(lastSeen, at)}`;
  if (state === 'ready') return `${room}${fullWords(shelf, at)}; ${copiesWords(shelf, at)}${lacksWords(shelf)}.`;
  if (state === 'new') return 'nothing was ever copied to it; it gets its marker with the first backup.';
  if (state === 'unknown') return 'not looked at yet.';
  if (state === 'shelf-absent' && rotate)
    return `not here, as is usual for it; ${seen}; ${copiesWords(shelf, at)}${lacksWords(shelf)}.`;
  return `${stateDetail ?? state}${lastSeen === null ? '' : ` (${seen})`}`;
}

/** As footage came lately and as shoots are planned. A snapshot of an earlier version does not tell. */
function fullWords({ fullOn, fullFrom, fullTo }: ShelfSnapshot, at: IsoTime): string {
  if (fullOn === null || fullOn === undefined) return '';
  const from = fullFrom === null ? '' : ` from ${dayWords(fullFrom, at)}`;
  const to = fullTo === null ? ' on' : ` to ${dayWords(fullTo, at)}`;
  return `, full about ${dayWords(fullOn, at)} (in four cases of five${from}${to})`;
}

/** A snapshot of an earlier version does not tell. */
function lacksWords({ lacksBytes = null }: ShelfSnapshot): string {
  if (lacksBytes === null) return '';
  return lacksBytes === 0 ? '; it lacks nothing' : `; it lacks ${formatBytes(lacksBytes)}`;
}

function copiesWords(shelf: ShelfSnapshot, at: IsoTime): string {
  const { copies, oldestReadAt } = shelf;
  const { files, bytes, verifiedFiles, differing, unread } = copies;
  if (files === 0) return 'no copies on it yet';
  const rest = [
    ...(verifiedFiles === files ? [] : [`${formatCount(files - verifiedFiles, 'file')} not verified`]),
    ...(differing === 0 ? [] : [`${differing} no longer what was written`]),
    ...(unread === 0 ? [] : [`${unread} could not be read`]),
  ];
  const read = oldestReadAt === null ? '' : `, each read back at ${shortTime(oldestReadAt, at)} or later`;
  return `${formatCount(files, 'copy', 'copies')}, ${formatBytes(bytes)}${rest.length === 0 ? read : `: ${rest.join(', ')}`}${overdueWords(shelf)}`;
}

/** A snapshot of an earlier version does not tell. */
function overdueWords({ copies: { overdueFiles, overdueBytes }, rereadSeconds }: ShelfSnapshot): string {
  if (!overdueFiles || rereadSeconds == null) return '';
  const were = overdueFiles === 1 ? 'was' : 'were';
  return `; ${formatCount(overdueFiles, 'copy', 'copies')} (${formatBytes(overdueBytes)}) ${were} not read for more than ${formatCount(Math.round(rereadSeconds / 86_400), 'day')}`;
}

/** How a backup goes, or how the last one went. */
export function backupSentence(run: BackupSnapshot, at: IsoTime): string {
  const { volume, shelf, state, startedAt, endedAt, why, reason } = run;
  const began = startedAt === null ? '' : ` since ${shortTime(startedAt, at)}`;
  const ended = endedAt === null ? '' : ` at ${shortTime(endedAt, at)}`;
  const what = `backup of ${reason === 'project-files' ? 'the project files of ' : ''}${volume} to ${shelf}`;
  switch (state) {
    case 'looking':
      return `A ${what} is beginning: the shelf is looked at.`;
    case 'copying':
    case 're-reading':
      return `A ${what} is under way${began}: ${progressWords(run)}.`;
    case 'paused':
      return `A ${what} waits${began}, for playback goes first: ${progressWords(run)}.`;
    case 'refused':
      return `The last ${what} was not begun${ended}: ${why ?? ''}`;
    case 'broken':
      return `The last ${what} broke off${ended}, ${doneWords(run)} by then: ${why ?? ''}`;
    case 'stopped':
      return `The last ${what} was stopped${ended}, ${doneWords(run)} by then; the next one goes on from there.`;
    case 'done':
      return `The last ${what} ended${ended}: ${doneWords(run)}${leftWords(run)}.`;
  }
}

function progressWords({ files, wantedFiles, movedBytes, wantedBytes }: BackupSnapshot): string {
  if (wantedFiles === null || wantedBytes === null) return formatCount(files, 'file');
  // Each byte is written and read back.
  const moved =
    wantedBytes === 0
      ? ''
      : `, ${Math.min(100, Math.floor((50 * movedBytes) / wantedBytes))} % of writing and reading back`;
  return `${files} of ${formatCount(wantedFiles, 'file')}, ${formatBytes(wantedBytes)} in all${moved}`;
}

function doneWords({ files, bytes, verifiedFiles }: BackupSnapshot): string {
  if (files === 0) return 'nothing was copied';
  const verified =
    verifiedFiles === files
      ? 'each read back from the shelf'
      : `${verifiedFiles} of them read back from the medium; of the others a cache may have answered`;
  return `${formatCount(files, 'file')} (${formatBytes(bytes)}) copied, ${verified}`;
}

function leftWords({ changed, failures, troubles, wantedFiles }: BackupSnapshot): string {
  if (wantedFiles === 0) return ', for nothing was missing there';
  const [first] = troubles;
  return [
    ...(changed === 0
      ? []
      : [`; ${formatCount(changed, 'file')} changed meanwhile and ${changed === 1 ? 'is' : 'are'} copied by the next`]),
    ...(failures === 0
      ? []
      : [
          `; ${formatCount(failures, 'file')} left behind${first === undefined ? '' : `, first: ${first.message}; ${first.advice}`}`,
        ]),
  ].join('');
}

/** What somebody took away from its volume and still has a copy. */
export function onlySentence({ volume, project, shelf, files, bytes }: OnlyOnShelfSnapshot): string {
  const what = `${formatCount(files, 'file')} (${formatBytes(bytes)}) of ${project ?? 'no project'}`;
  return `${what} ${files === 1 ? 'is' : 'are'} on ${shelf} and no longer on ${volume}: "headroomd backup restore-list" names ${files === 1 ? 'it' : 'them'}.`;
}
