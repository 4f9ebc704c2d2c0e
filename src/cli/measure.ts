import { InvalidArgumentError } from 'commander';
import { isOfDrives, readBetween, type SpeedSample } from '../core/assess/speed-sample.ts';
import { Fault, messageOf } from '../core/fault.ts';
import { display, terminalJson } from '../core/present/escape.ts';
import { bytesOrWhy, measuredSentences, whyNotNow } from '../core/present/measure-words.ts';
import { measureProgress } from '../core/present/progress-words.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import type { VolumeSnapshot } from '../core/present/snapshot-volume.ts';
import { wrap } from '../core/present/text.ts';
import { composeClient, type DaemonClient } from '../daemon/compose-client.ts';
import { clearMeasurements, measureVolume } from '../daemon/compose-measure.ts';
import { parseSize } from '../settings/units.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, textWidth } from './io.ts';
import { progressLine } from './progress-line.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface MeasureOptions {
  state?: string;
  json?: boolean;
  size?: number;
  anyway?: boolean;
}

/** What a player or a copy asks for at once: large enough for the drives, small enough to be told every frame or two. */
const REQUEST_BYTES = 1_048_576;
/** Requests on their way at once while one file is read or written from end to end, as copies and read-ahead do it. */
const DEPTH = 4;
const STREAMS = [1, 4, 9];
const LONGEST_SECONDS = 30;

/** `headroomd measure VOLUME`: how fast it really is, measured here as the person who calls, and handed to the daemon. */
export async function measureVerb(io: CliIo, named: string, options: MeasureOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  // Before anything is refused: what was left may be what takes the room.
  for (const path of clearMeasurements(stateDir)) {
    io.err(`headroomd: removed what an earlier measurement had left: ${display(path)}\n`);
  }
  const client = composeClient(stateDir);
  const snapshot = (await client.ask('/api/snapshot')) as Snapshot | null;
  if (snapshot === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  const volume = volumeOf(snapshot, named);
  const busy = whyNotNow(volume, snapshot.arrivals);
  if (busy !== null && options.anyway !== true) {
    throw new Fault('failed', `${busy}. Measure when it is quiet, or add --anyway.`);
  }
  const bytes = bytesOrWhy(volume, options.size);
  if (typeof bytes === 'string') throw new Fault('failed', `${bytes}. Nothing was written.`);
  const sample = await measured(io, volume, { bytes, stateDir, idle: busy === null, silent: options.json === true });
  await hand(io, client, sample);
  if (options.json) io.out(`${terminalJson(sampleJson(sample, io))}\n`);
  else
    io.out(
      `${measuredSentences(sample, volume)
        .flatMap((sentence) => wrap(sentence, textWidth(io)))
        .join('\n')}\n`,
    );
  return exitCodes.ok;
}

/** `4 GB` on the command line. */
export function sizeArgument(text: string): number {
  const size = parseSize(text);
  if (size.ok) return size.value;
  throw new InvalidArgumentError(`a size is like "8 GB"${size.hint === null ? '' : `; ${size.hint}`}.`);
}

function volumeOf({ volumes }: Snapshot, named: string): VolumeSnapshot {
  const volume = volumes.find(({ name, path }) => name === named || path === named.replace(/\/+$/, ''));
  const names = volumes.map(({ name }) => name).join(', ');
  if (volume === undefined) throw new Fault('failed', `there is no volume ${named}; there are ${names}.`);
  if (volume.state !== 'live') throw new Fault('failed', `${named} cannot be measured: it is ${volume.state}.`);
  return volume;
}

interface Measuring {
  bytes: number;
  stateDir: string;
  idle: boolean;
  /** Nothing is told on the way. */
  silent: boolean;
}

async function measured(
  io: CliIo,
  volume: VolumeSnapshot,
  { bytes, stateDir, idle, silent }: Measuring,
): Promise<SpeedSample> {
  const order = {
    ...{ folder: volume.path, notes: stateDir, bytes, requestBytes: REQUEST_BYTES, depth: DEPTH },
    ...{ streams: STREAMS, seconds: LONGEST_SECONDS },
  };
  const line = progressLine(io, { silent });
  try {
    const found = await measureVolume(order, (step) => line.tell(measureProgress(step, order)));
    return { ...found, volume: volume.name, at: Date.now(), requestBytes: REQUEST_BYTES, idle };
  } catch (error) {
    throw new Fault('failed', whyFailed(error, volume), error);
  } finally {
    line.end();
  }
}

function whyFailed(error: unknown, { name, path }: VolumeSnapshot): string {
  const { code } = error as NodeJS.ErrnoException;
  if (code === 'EACCES' || code === 'EPERM' || code === 'EROFS') {
    return `${name} was not measured: nothing can be written in ${path} by this user (${code}). Call it as a user who may.`;
  }
  if (code === 'ENOSPC' || code === 'EDQUOT') return `${name} was not measured: there is no room in ${path} (${code}).`;
  return `${name} was not measured: ${messageOf(error)}.`;
}

/** The measurement is good without it being kept: its failure is told, and no more. */
async function hand(io: CliIo, client: DaemonClient, sample: SpeedSample): Promise<void> {
  try {
    if ((await client.tell('/api/measured', sample)) !== null) return;
    io.err('headroomd: the daemon has ended meanwhile; the measurement is not kept.\n');
  } catch (error) {
    io.err(`headroomd: the measurement could not be kept: ${display(messageOf(error))}\n`);
  }
}

/** Where memory may have answered, `readBps` and the latencies are `null`, and the two bounds differ. */
function sampleJson(sample: SpeedSample, { zone }: CliIo): object {
  const isKnown = isOfDrives(sample);
  const { low, high } = readBetween(sample);
  const at = Temporal.Instant.fromEpochMilliseconds(Math.round(sample.at)).toZonedDateTimeISO(zone);
  const whole = (bps: number) => Math.round(bps);
  return {
    ...sample,
    readBps: isKnown ? whole(sample.readBps) : null,
    readLowBps: whole(low),
    readHighBps: whole(high),
    writeBps: whole(sample.writeBps),
    streams: sample.streams.map((one) =>
      isKnown
        ? { ...one, readBps: whole(one.readBps) }
        : { streams: one.streams, readBps: null, p50Ms: null, p99Ms: null },
    ),
    at: at.toString({ timeZoneName: 'never', fractionalSecondDigits: 3 }),
  };
}
