import type { SpeedSample } from '../assess/speed-sample.ts';
import { isOfDrives, measureBytes, ROOM_TO_MEASURE, readBetween } from '../assess/speed-sample.ts';
import { formatBytes, formatCount, formatRate, formatShare } from '../units.ts';
import type { ArrivalSnapshot } from './snapshot.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

/** More than this is somebody's work. */
const BUSY_BPS = 10_000_000;

/** Why a volume is not to be measured now, in a sentence; `null`: it may be. */
export function whyNotNow(volume: VolumeSnapshot, arrivals: readonly ArrivalSnapshot[]): string | null {
  const copies = arrivals.filter((one) => one.volume === volume.name && one.state === 'copying');
  const load = volume.speed.load;
  if (copies.length > 0) {
    return `${formatCount(copies.length, 'copy is', 'copies are')} arriving on ${volume.name} (${copies[0]?.path}): it would slow them down, and they would falsify it`;
  }
  if (load !== null && load.readBps + load.writeBps - load.ownReadBps > BUSY_BPS) {
    return `${volume.name} is at work: ${formatRate(load.readBps)} are read and ${formatRate(load.writeBps)} written there`;
  }
  return null;
}

/** How much to write on it; a sentence where there is too little room. */
export function bytesOrWhy(volume: VolumeSnapshot, wanted?: number): number | string {
  const room = volume.capacity.roomBytes;
  if (room === null) return `how much room ${volume.name} has is not known`;
  const least = formatBytes(ROOM_TO_MEASURE);
  if (room < ROOM_TO_MEASURE) {
    return `${volume.name} has ${formatBytes(Math.max(0, room))} above its reserve; a measurement takes half of that for a minute, and needs ${least} there`;
  }
  return (
    measureBytes(room, wanted) ??
    `that is too little to tell the drives from their own memory; take ${formatBytes(ROOM_TO_MEASURE / 2)} or more`
  );
}

/** What was measured, in sentences. */
export function measuredSentences(sample: SpeedSample, { name, speed }: VolumeSnapshot): string[] {
  const { readBps, writeBps, streams, bytes } = sample;
  const meanwhile = sample.idle
    ? []
    : ['Something else went on there meanwhile: it counts as what is possible at least, no more.'];
  if (!isOfDrives(sample)) return [...unsureSentences(sample, { name, speed }), ...meanwhile, OWN_CACHE];
  const most = Math.max(...streams.map((one) => one.streams));
  const several = streams.find((one) => one.streams === most);
  return [
    `${name} reads ${formatRate(readBps)} and writes ${formatRate(writeBps)}, one file of ${formatBytes(bytes)} from end to end.`,
    ...(several === undefined ? [] : [streamsSentence(several)]),
    keptFree(speed, readBps),
    ...meanwhile,
    OWN_CACHE,
  ];
}

const OWN_CACHE = 'A drive whose own cache is larger than the file writes slower when that is full, in long copies.';

/** Where memory may have answered. */
function unsureSentences(sample: SpeedSample, { name, speed }: Pick<VolumeSnapshot, 'name' | 'speed'>): string[] {
  const { low, high } = readBetween(sample);
  const wrote = `${name} writes ${formatRate(sample.writeBps)}, one file of ${formatBytes(sample.bytes)} from end to end.`;
  const reads =
    low === high
      ? `It reads ${formatRate(high)} at most: on this kind of file system memory may have answered.`
      : `It reads between ${formatRate(low)} and ${formatRate(high)}: on this kind of file system memory may have answered, and drives seldom read slower than they write.`;
  return [wrote, reads, keptFree(speed, low)];
}

function keptFree({ reserveShare }: VolumeSnapshot['speed'], bps: number): string {
  return `${formatShare(reserveShare)} of it ${reserveShare === 0 ? 'is' : 'are'} kept free: ${formatRate(bps * (1 - reserveShare))} may be asked for by one stream.`;
}

function streamsSentence({ streams, readBps, p99Ms }: SpeedSample['streams'][number]): string {
  return `${streams} streams side by side read ${formatRate(readBps)} in all; one request in a hundred takes longer than ${p99Ms.toFixed(1)} ms.`;
}
