import { formatCount, listWords } from '../units.ts';
import type { Report } from './report.ts';
import { shortTime, stateSentence } from './sentences.ts';

/** What could not be looked at, and what the figures therefore do not say. */
export function limitSentences(report: Report): string[] {
  return [...startSentences(report), ...volumeSentences(report), ...shelfSentences(report), ...copiesSentences(report)];
}

/** Nobody looked while no daemon ran. */
function startSentences({ runningSince, from, at, newVolumes }: Report): string[] {
  const isLate = Temporal.Instant.compare(runningSince, from) > 0;
  return [
    ...(isLate
      ? [
          `headroomd was started at ${shortTime(runningSince, at)}. What came or was taken away while it did not run was found then, and is told with that time; so is what was raised or over meanwhile.`,
        ]
      : []),
    ...newVolumes.map(
      (name) =>
        `Of ${name} nothing is known that was ready before this time. What lay there already when it was first read counts as arrived.`,
    ),
  ];
}

function volumeSentences({ volumes }: Report): string[] {
  return volumes.flatMap((volume) => {
    const state = stateSentence(volume);
    return state === null ? [] : [`${volume.name}: ${state}`];
  });
}

/** What is on a shelf that is not here is told as it was last read. */
function shelfSentences({ shelves }: Report): string[] {
  const away = shelves
    .filter(({ state, copies }) => state !== 'ready' && state !== 'new' && copies.files > 0)
    .map(({ name }) => name);
  if (away.length === 0) return [];
  return [
    `Not looked at: ${away.join(', ')}. That the copies there are as they were last read is taken for granted, not known.`,
  ];
}

function copiesSentences({ volumes, shelves, commands, cards }: Report): string[] {
  const unknown = volumes
    .filter(({ safety }) => safety.exposedBytes !== 0 && safety.lossChance === null)
    .map(({ name }) => name);
  const believed = commands.filter(({ copies }) => copies.reportedFiles > copies.verifiedFiles).map(({ name }) => name);
  const unread = cards.filter(({ copies }) => copies === null).length;
  return [
    ...(shelves.length + commands.length === 0
      ? ['No backup is configured, so nothing here has a second copy that headroomd knows of.']
      : []),
    ...(unknown.length > 0 && shelves.length > 0
      ? [
          `How likely a loss is cannot be told of ${listWords(unknown)}: what it lies on is not seen, or when its next backup ends is not known.`,
        ]
      : []),
    ...(believed.length === 0
      ? []
      : [
          `What the programs for ${believed.join(', ')} say that they copied is their word as far as it was not read back.`,
        ]),
    ...(unread === 0
      ? []
      : [`The copies of ${formatCount(unread, 'card or list', 'cards or lists')} were not looked up yet.`]),
  ];
}
