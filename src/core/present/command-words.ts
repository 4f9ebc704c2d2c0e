import { formatBytes, formatCount } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import { shortTime } from './sentences.ts';
import type { CommandSnapshot } from './snapshot-commands.ts';

/** What a program of the user's says that it has copied, and what of that counts. */
export function reportedSentence({ volume, name, copies, nextAt }: CommandSnapshot, at: IsoTime): string {
  const { reportedFiles, reportedBytes, verifiedFiles, verifiedBytes } = copies;
  const next = nextAt === null ? '' : ` It is called next ${shortTime(nextAt, at)}, if anything lacks a copy there.`;
  if (reportedFiles === 0 && verifiedFiles === 0) return `${name}: no copies of ${volume} yet.${next}`;
  const said = `its command says that it has ${formatCount(reportedFiles, 'file')} of ${volume} (${formatBytes(reportedBytes)})`;
  const read =
    verifiedFiles === 0
      ? 'headroomd has read none of them, so none counts as verified'
      : `${formatCount(verifiedFiles, 'file')} (${formatBytes(verifiedBytes)}) of ${volume} there ${verifiedFiles === 1 ? 'was' : 'were'} read back from the medium and ${verifiedFiles === 1 ? 'counts' : 'count'} as verified`;
  return `${name}: ${said}; ${read}.${next}`;
}

/** How its last run went, or goes; `null`: there was none. */
export function commandSentence(one: CommandSnapshot, at: IsoTime): string | null {
  const { volume, name, state, startedAt, endedAt, why } = one;
  const what = `copying of ${volume} to ${name}`;
  const since = startedAt === null ? '' : ` since ${shortTime(startedAt, at)}`;
  const ended = endedAt === null ? '' : ` at ${shortTime(endedAt, at)}`;
  switch (state) {
    case null:
      return null;
    case 'waiting':
    case 'listing':
      return `A ${what} is beginning.`;
    case 'running':
      return `A ${what} is under way${since}: ${saidWords(one)}${progressWords(one)}.`;
    case 'reading-back':
      return `A ${what} is under way${since}: what it says to have is read back.`;
    case 'failed':
      return `The last ${what} did not end well${ended}; ${saidWords(one)}: ${why ?? ''}`;
    case 'stopped':
      return `The last ${what} was ended${ended}; ${saidWords(one)}. The next one goes on from there.`;
    case 'done':
      return `The last ${what} ended${ended}: ${saidWords(one)}${leftWords(one)}.`;
  }
}

function saidWords({ wantedFiles, wantedBytes, reportedFiles, reportedBytes }: CommandSnapshot): string {
  if (wantedFiles === 0) return 'nothing lacked a copy, so the command was not called';
  if (wantedFiles === null || wantedBytes === null) return 'nothing was listed';
  return `${reportedFiles} of ${formatCount(wantedFiles, 'file')} copied by its word (${formatBytes(reportedBytes)} of ${formatBytes(wantedBytes)})`;
}

function progressWords({ progress, progressMessage }: CommandSnapshot): string {
  const share = progress === null ? [] : [`${Math.floor(progress * 100)} % by its word`];
  const words = progressMessage === null ? [] : [`"${progressMessage}"`];
  return [...share, ...words].map((part) => `, ${part}`).join('');
}

function leftWords({ failures, troubles, unsaidFiles, noReports, unknownFiles }: CommandSnapshot): string {
  const [first] = troubles;
  return [
    ...(unsaidFiles === 0 ? [] : [`; of ${formatCount(unsaidFiles, 'file')} it said nothing`]),
    ...(failures === 0
      ? []
      : [`; ${formatCount(failures, 'file')} left behind${first === undefined ? '' : `, first: ${first.message}`}`]),
    ...(noReports === 0
      ? []
      : [`; ${formatCount(noReports, 'line')} it printed ${noReports === 1 ? 'was' : 'were'} no report`]),
    ...(unknownFiles === 0
      ? []
      : [
          `; it told of ${formatCount(unknownFiles, 'file')} that ${unknownFiles === 1 ? 'was' : 'were'} not listed, or twice`,
        ]),
  ].join('');
}
