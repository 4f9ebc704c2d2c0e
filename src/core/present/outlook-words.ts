import { ANY_TIME_TB_HOURS, QUIET_TB_HOURS } from '../backup/due.ts';
import type { StartReason } from '../backup/due-state.ts';
import { formatBytes, formatCount, formatDuration } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import { shortTime } from './sentences.ts';
import type { LossSnapshot, NightSnapshot } from './snapshot-safety.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

const REASONS: Readonly<Record<StartReason, string>> = {
  nightly: 'its night',
  'catch-up': 'for a night that was missed',
  retry: 'the last one failed',
  'card-finished': 'footage came, and nothing has come since',
  exposure: 'for what is exposed, and how long it is',
  age: 'the oldest of what is exposed will be 12 h old',
};

const BYTE_SECONDS_PER_TBH = 3600e12;

/** When the next backup of a volume begins, and why, or that none is configured; `null`: nothing can be told, or nothing needs one. */
function nextBackupSentence({ name, safety }: VolumeSnapshot, at: IsoTime): string | null {
  const { nextBackupAt, nextBackupReason, nextBackupHeldBy, backupWaits, exposedBytes } = safety;
  if (safety.hasBackup === false) return exposedBytes === 0 ? null : noBackupSentence(name);
  if (nextBackupAt === null) {
    return backupWaits === 'shelf-absent' ? `No backup of ${name} can begin: none of its shelves is here.` : null;
  }
  if (nextBackupHeldBy === 'playback') return `A backup of ${name} is due and waits, for playback goes first.`;
  if (nextBackupHeldBy === 'volume-saturated')
    return `A backup of ${name} is due and waits, for the volume has been asked for all it gives.`;
  const why = nextBackupReason == null ? '' : ` (${REASONS[nextBackupReason]})`;
  return `The next backup of ${name} begins ${shortTime(nextBackupAt, at)}${why}.`;
}

function noBackupSentence(name: string): string {
  return `No backup of ${name} is configured: it gets no copy before a [[shelf]] and a [[backup]] are written into the configuration.`;
}

/** What is to come of the backups of a volume, at length. A snapshot of an earlier version does not tell. */
export function outlookSentences(volume: VolumeSnapshot, at: IsoTime): string[] {
  const { exposedBytes, exposedByteSeconds = null, nights = [], loss = null, lossChance } = volume.safety;
  const next = nextBackupSentence(volume, at);
  return [
    ...(next === null ? [] : [next]),
    ...(exposedByteSeconds === null || exposedByteSeconds < 0.005 * BYTE_SECONDS_PER_TBH
      ? []
      : [exposureSentence(exposedByteSeconds)]),
    ...nights.map(nightSentence),
    ...(loss === null || lossChance === null || exposedBytes === 0 ? [] : [chanceSentence(lossChance, loss)]),
  ];
}

function exposureSentence(byteSeconds: number): string {
  const hours = Number((byteSeconds / BYTE_SECONDS_PER_TBH).toPrecision(2));
  return `What is exposed comes to ${hours} TB times hours; from ${QUIET_TB_HOURS} on a backup begins when nothing comes for ten minutes, from ${ANY_TIME_TB_HOURS} on at once.`;
}

function nightSentence({
  bytes,
  seconds,
  windowSeconds,
  fits,
  nightBytes,
  nights,
  bytesPerDay,
}: NightSnapshot): string {
  const window = `the ${formatDuration(windowSeconds)} of its window`;
  if (bytes === 0) return `Nothing is left to copy; ${window} would take about ${formatBytes(nightBytes)}.`;
  const work = `${formatBytes(bytes)} are left to copy: about ${formatDuration(seconds)} with reading back, if it goes as fast as before.`;
  if (fits) return `${work} That fits ${window}.`;
  const day = bytesPerDay > 0 ? `, with ${formatBytes(bytesPerDay)} more a day` : '';
  const all =
    nights === null
      ? `a night takes ${formatBytes(nightBytes)} and a day brings ${formatBytes(bytesPerDay)}: it will never catch up. A longer window or a faster shelf would`
      : `all of it takes about ${formatCount(nights, 'night')}${day}`;
  return `${work} That does not fit ${window}; ${all}. "headroomd backup now" begins at once, and has no window.`;
}

/** Chances are small: as one in so many, to one figure. */
function chanceSentence(chance: number, { seconds, drivesFailInYear, otherInYear }: LossSnapshot): string {
  const odds = chance <= 0 ? 'next to nothing' : `about 1 in ${roundOdds(1 / chance)}`;
  const drives = `${percent(drivesFailInYear)} of drives a year`;
  const other = `${percent(otherInYear)} a year for deletion, theft and fire`;
  return `That the volume is lost before the next backup has ended (${formatDuration(seconds)}): ${odds}, by usual figures (${drives}, ${other}), not by those of your drives.`;
}

function roundOdds(odds: number): string {
  const rounded = Number(odds.toPrecision(odds < 10 ? 2 : 1));
  return rounded.toLocaleString('en-US');
}

function percent(share: number): string {
  return `${Number((share * 100).toPrecision(2))} %`;
}
