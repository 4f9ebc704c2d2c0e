import type { BookedHour } from '../forecast/booking.ts';
import type { Draws } from '../forecast/draws.ts';
import { cameraPaces, footageSeconds, type RecordedClip } from '../forecast/footage-left.ts';
import { type GrowthHour, growthDays, HOUR_MS, HOURS_A_DAY } from '../forecast/growth.ts';
import {
  type Band,
  type Crossing,
  chanceToKeep,
  type ForecastBasis,
  forecastOverrun,
  HORIZON_DAYS,
  isWithinHorizon,
} from '../forecast/overrun.ts';
import { type PlannedShoot, planAhead } from '../forecast/planned.ts';
import type { Clip, Instant } from '../model.ts';
import type { CapacityAssessment, CardAssessment } from './assessment.ts';
import { cameraOf } from './camera.ts';
import { usedBytes, writableBytes } from './capacity.ts';

/** When the room of a volume will be used up, if nothing is deleted. Days count from `at`. */
export interface CapacityForecast {
  at: Instant;
  basis: ForecastBasis;
  /** Days of ingest that were seen. */
  shootDays: number;
  /** What such a day brings, bytes. */
  shootDayBytes: number;
  /** Days of a shoot plan are still to come. */
  planned: boolean;
  /** The reserve, and the last byte; `null`: too little is known. */
  reserve: Crossing | null;
  full: Crossing | null;
  /** The reserve as it would be without any plan; `null`: there is none, or too little is known. */
  withoutPlan: Crossing | null;
  /** What will have come. */
  band: Band[] | null;
  /** Bytes in use at the end of days of 24 hours back from `at`, oldest first; from the first that is known. */
  history: { daysAgo: number; usedBytes: number }[];
  /** Projects that were to be shot on days on which nothing came: their plan does not count any longer. */
  notHappening: string[];
}

export interface ForecastQuestion {
  at: Instant;
  capacity: CapacityAssessment;
  hours: readonly BookedHour[];
  planned: readonly PlannedShoot[];
  /** Begins anew at every call. */
  draws: () => Draws;
}

export function forecastCapacity(question: ForecastQuestion): CapacityForecast {
  const { at, draws } = question;
  const { asked, model, notHappening } = inputOf(question);
  const hasPlan = isWithinHorizon(model);
  const { crossings, ...rest } = forecastOverrun({ ...asked, plan: hasPlan ? model : null, draws: draws() });
  const plain = hasPlan ? forecastOverrun({ ...asked, plan: null, draws: draws() }).crossings : null;
  const [reserve = null, full = null] = crossings ?? [];
  const history = usedHistory(question);
  return { at, ...rest, history, reserve, full, planned: hasPlan, withoutPlan: plain?.[0] ?? null, notHappening };
}

const HISTORY_DAYS = 30;

/** What is in use now, less what came since and with what was deleted since. */
function usedHistory({ at, capacity, hours }: ForecastQuestion): CapacityForecast['history'] {
  const nowHour = Math.floor(at / HOUR_MS);
  const first = hours.reduce((least, { hour }) => Math.min(least, hour), nowHour);
  const days = Math.min(HISTORY_DAYS, Math.floor((nowHour - first) / HOURS_A_DAY) + 1);
  const grown = new Array<number>(days + 1).fill(0);
  for (const { hour, ingestBytes, otherBytes, deletedBytes } of hours) {
    const day = Math.floor((nowHour - hour) / HOURS_A_DAY);
    if (day >= 0 && day < days) grown[day] = (grown[day] ?? 0) + ingestBytes + otherBytes - deletedBytes;
  }
  let used = usedBytes(capacity.space);
  const history = [];
  for (let day = 1; day <= days; day++) {
    used -= grown[day - 1] ?? 0;
    history.push({ daysAgo: day, usedBytes: Math.max(0, used) });
  }
  return history.reverse();
}

/**
 * Chance, 0..1, that the reserve is not touched until a planned shoot is over, with all that comes besides; `null`: too little is known,
 * or it lies too far ahead.
 */
export function chanceToFit(question: ForecastQuestion, untilHour: number): number | null {
  const days = untilHour / HOURS_A_DAY - question.at / HOUR_MS / HOURS_A_DAY;
  if (days <= 0 || days > HORIZON_DAYS) return null;
  const { asked, model } = inputOf(question);
  return chanceToKeep({ ...asked, plan: model.days.size > 0 ? model : null, draws: question.draws() }, days);
}

function inputOf({ at, capacity: { space, roomBytes }, hours, planned }: ForecastQuestion) {
  const nowHour = Math.floor(at / HOUR_MS);
  const came = (from: number, to: number) =>
    hours.reduce((sum, { hour, ingestBytes }) => (hour >= from && hour < to ? sum + ingestBytes : sum), 0);
  const { model, notHappening } = planAhead(planned, came, nowHour);
  const rooms = [roomBytes, space.availableBytes];
  return { asked: { hours, nowHour, capacityBytes: writableBytes(space), roomBytes: rooms }, model, notHappening };
}

/** Seconds of recording until the reserve, and until the volume is full. */
export interface FootageLeft {
  reserveSeconds: number;
  fullSeconds: number;
  cameras: number;
  /** What a second of it takes up, all cameras together, with what comes besides. */
  bps: number;
}

/** Bytes of cards that are being copied to a volume, which have not arrived there yet. */
export function stillToCome(cards: readonly CardAssessment[], volume: string): number {
  return cards
    .filter(({ state, stalled, wasComplete }) => state === 'mounted' && !stalled && !wasComplete)
    .filter(({ reconciliation }) => reconciliation.deliveries[0]?.volume === volume)
    .flatMap(({ reconciliation }) => reconciliation.files)
    .reduce((sum, { file, role, verdict, found }) => {
      if (role === 'housekeeping' || (verdict !== 'missing' && verdict !== 'arriving')) return sum;
      return sum + Math.max(0, (file.size ?? 0) - (found?.size ?? 0));
    }, 0);
}

/**
 * At the cameras and formats that recorded last; `null`: nothing was recorded, or nothing is known of its length. `toCome`: bytes that
 * are on their way already.
 */
export function footageLeft(
  { roomBytes, space }: CapacityAssessment,
  toCome: number,
  newest: readonly Clip[],
  hours: readonly GrowthHour[],
  at: Instant,
): FootageLeft | null {
  const paces = cameraPaces(newest.flatMap(recordedOf));
  const growth = growthPerByte(hours, Math.floor(at / HOUR_MS));
  const reserveSeconds = footageSeconds(roomBytes - toCome, paces, growth);
  const fullSeconds = footageSeconds(space.availableBytes - toCome, paces, growth);
  const bps = paces.reduce((sum, pace) => sum + pace.bps, 0) * growth;
  return reserveSeconds === null || fullSeconds === null
    ? null
    : { reserveSeconds, fullSeconds, cameras: paces.length, bps };
}

function recordedOf(clip: Clip): RecordedClip[] {
  const { codec, width, height, frameRate, durationSeconds } = clip.facts;
  if (clip.kind !== 'original' || width === null || durationSeconds === null) return [];
  const format = JSON.stringify([codec, width, height, frameRate]);
  return [{ camera: cameraOf(clip).camera ?? '', at: clip.readyAt, bytes: clip.bytes, durationSeconds, format }];
}

const LEARNT_DAYS = 60;
/** More than this is another thing than what comes with footage. */
const MOST_GROWTH = 2;

/** What came besides, on days of ingest, for each byte of footage. */
function growthPerByte(hours: readonly GrowthHour[], nowHour: number): number {
  const { ingest, other } = growthDays(hours, nowHour);
  const footage = ingest.slice(0, LEARNT_DAYS).reduce((sum, bytes) => sum + bytes, 0);
  const beside = other
    .slice(0, LEARNT_DAYS)
    .reduce((sum, bytes, day) => ((ingest[day] ?? 0) > 0 ? sum + bytes : sum), 0);
  return footage > 0 ? Math.min(MOST_GROWTH, Math.max(1, 1 + beside / footage)) : 1;
}
