import { formatBytes, formatCount, formatDuration, listWords } from '../units.ts';
import { backupSentence, shelfSentence } from './backup-words.ts';
import { NO_LEAVE } from './card-copies.ts';
import { onCardsSentence } from './kept-card.ts';
import { outlookSentences } from './outlook-words.ts';
import { overrunSentences } from './overrun-words.ts';
import type { Report, ReportCopies } from './report.ts';
import { advisorySentences } from './report-advisories.ts';
import { arrivedSentences } from './report-arrivals.ts';
import { limitSentences } from './report-limits.ts';
import { runSentence } from './report-run.ts';
import { lossSentence, roomSentence, shortTime } from './sentences.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';
import { verifySentence } from './verify-words.ts';

/** A section: what it is about, and what is to be said, a sentence or a few in each. */
export interface ReportPart {
  heading: string;
  sentences: string[];
}

/** All that is said below the first sentence, in the order in which one asks. A part without anything to say is left out. */
export function reportParts(report: Report): ReportPart[] {
  const { volumes, at } = report;
  const parts = [
    { heading: 'Arrived', sentences: arrivedSentences(report) },
    { heading: 'Backups', sentences: backupSentences(report) },
    { heading: 'What would be lost now', sentences: volumes.flatMap((volume) => lossSentences(volume, report)) },
    {
      heading: 'Room',
      sentences: [
        ...volumes.flatMap((volume) => roomSentences(volume, at)),
        ...report.shelves.map((shelf) => `${shelf.name}: ${shelfSentence(shelf, at)}`),
      ],
    },
    { heading: 'Advisories', sentences: advisorySentences(report) },
    { heading: 'What this report cannot tell', sentences: limitSentences(report) },
    { heading: 'The usual caution', sentences: [NO_LEAVE] },
  ];
  return parts.filter(({ sentences }) => sentences.length > 0);
}

const BASES: Readonly<Record<Report['basis'], string>> = {
  'last-report': 'the time since the last report',
  'eight-days': 'the last eight days (the last report was sent before that)',
  'report-hour': 'the time since the report hour of the day before',
  'last-day': 'the last 24 hours',
};

/** Of which time it tells, by whose clocks. Where the clocks were changed meanwhile both offsets are told. */
export function periodSentence({ from, until, basis, zone, version }: Report): string {
  const isChanged = offsetOf(from) !== offsetOf(until);
  const words = (time: string) =>
    `${time.slice(0, 10)} ${time.slice(11, 16)}${isChanged ? ` (${offsetOf(time)})` : ''}`;
  const seconds = Temporal.Instant.from(from).until(Temporal.Instant.from(until)).total('seconds');
  return `This tells of ${BASES[basis]}, from ${words(from)} to ${words(until)} by the clocks of ${zone} (${formatDuration(Math.round(seconds))}). headroomd ${version}.`;
}

const offsetOf = (time: string): string => time.slice(23);

function backupSentences({ runs, backups, copies, verifications, at }: Report): string[] {
  return [
    ...(runs.length === 0 ? ['No backup ended.'] : runs.map((run) => runSentence(run, at))),
    ...backups.map((run) => backupSentence(run, at)),
    ...copySentences(copies),
    ...verifications.map((run) => verifySentence(run, at)),
  ];
}

const GRADES: Readonly<Record<ReportCopies['grade'], string>> = {
  device: 'read back past every cache of this machine',
  'cache-dropped': 'read back after the cache had let go of them',
  server: 'read back from a server, which has caches of its own, so they do not count as verified',
  reported: 'read back where a cache may have answered, so they do not count as verified',
};

/** How many copies were made and read again, and how surely what was read came from the medium. By the ledger, whatever became of the runs. */
function copySentences(copies: readonly ReportCopies[]): string[] {
  const good = copies.filter(({ state }) => state === 'good');
  const bad = copies.filter(({ state }) => state !== 'good');
  const groups = Map.groupBy(good, ({ shelf, volume, isNew }) => JSON.stringify([shelf, volume, isNew]));
  return [...[...groups.values()].map(goodSentence), ...bad.map(badSentence)];
}

function goodSentence(alike: readonly ReportCopies[]): string {
  const { shelf = '', volume = '', isNew = true } = alike[0] ?? {};
  const files = alike.reduce((sum, one) => sum + one.files, 0);
  const bytes = alike.reduce((sum, one) => sum + one.bytes, 0);
  const [only] = alike;
  const how =
    alike.length === 1 && only !== undefined
      ? GRADES[only.grade]
      : listWords(alike.map((one) => `${one.files} ${GRADES[one.grade]}`));
  const count = formatCount(files, isNew ? 'new copy' : 'copy', isNew ? 'new copies' : 'copies');
  const found = isNew ? how : `as written, ${how}`;
  return `${shelf}: ${count} of ${volume} (${formatBytes(bytes)}) ${isNew ? 'made' : 'read again'}, ${found}.`;
}

function badSentence({ shelf, volume, state, files, bytes }: ReportCopies): string {
  const are =
    state === 'differs'
      ? `${files === 1 ? 'is' : 'are'} not what was written`
      : `${files === 1 ? 'is' : 'are'} gone or could not be read`;
  return `${shelf}: ${formatCount(files, 'copy', 'copies')} of ${volume} (${formatBytes(bytes)}) ${are}; nothing was touched.`;
}

function lossSentences(volume: VolumeSnapshot, { at, wanted }: Report): string[] {
  const { name, safety } = volume;
  const want = wanted[name];
  const aim =
    want === undefined
      ? ''
      : ` Wanted ${want.copies === 1 ? 'is 1 verified copy' : `are ${want.copies} verified copies on different drives`}, read back within ${formatCount(want.readWithinDays, 'day')}.`;
  const read =
    safety.lastVerifiedAt === null ? '' : ` A copy was last read back at ${shortTime(safety.lastVerifiedAt, at)}.`;
  const onCards = onCardsSentence(safety, at);
  return [
    `${name}: ${lossSentence(volume, at)}${aim}${read}`,
    ...(onCards === null ? [] : [onCards]),
    ...outlookSentences(volume, at),
  ];
}

function roomSentences(volume: VolumeSnapshot, at: string): string[] {
  const { overrun } = volume.capacity;
  const rate =
    overrun == null || overrun.shootDays === 0 || overrun.shootDayBytes <= 0
      ? []
      : [`A middle day with footage brings it about ${formatBytes(overrun.shootDayBytes)}.`];
  return [`${volume.name}: ${roomSentence(volume)}`, ...overrunSentences(volume, at), ...rate];
}
