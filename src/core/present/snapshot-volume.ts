import type { SpeedAssessment, VolumeAssessment } from '../assess/assessment.ts';
import { usedBytes } from '../assess/capacity.ts';
import type { CapacityForecast } from '../assess/capacity-forecast.ts';
import { capacityNotes } from '../assess/capacity-notes.ts';
import type { DetectedLayout } from '../assess/detected-layout.ts';
import type { Removed } from '../assess/removed.ts';
import type { SpeedBasis } from '../assess/speed-belief.ts';
import type { ProjectSum } from '../store-ports.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { type SafetySnapshot, safetySnapshot } from './snapshot-safety.ts';
import { VOLUME_STATES, type VolumeState } from './wording.ts';

export interface VolumeSnapshot {
  name: string;
  path: string;
  state: VolumeState;
  stateDetail: string | null;
  /** The figures are older than they should be. */
  stale: boolean;
  layout: {
    level: string | null;
    members: number | null;
    drive: string | null;
    link: string | null;
    fileSystem: string | null;
    mountOptions: readonly string[];
    basis: 'declared' | 'detected' | null;
    declared: { level: string; members: number; drive: string; link: string | null } | null;
    detected: {
      level: string | null;
      members: number;
      drive: string | null;
      link: string | null;
      by: string;
      health: DetectedLayout['health'];
      drives: {
        name: string;
        model: string | null;
        serial: string | null;
        bytes: number | null;
        transport: string | null;
      }[];
      notSeen: readonly string[];
    } | null;
  };
  capacity: {
    totalBytes: number | null;
    usedBytes: number | null;
    freeBytes: number | null;
    /** What the user can write; less than free on ext4. */
    availableBytes: number | null;
    reserveBytes: number | null;
    /** What can be written before the reserve is touched; negative when it is. */
    roomBytes: number | null;
    /** Recording of all cameras that were there last, at their formats, until the reserve; and until it is full. */
    footageSecondsLeft: number | null;
    footageSecondsUntilFull: number | null;
    /** How many cameras that is. */
    footageCameras: number | null;
    /** What the room that the file system tells does not mean, in sentences. */
    notes: readonly string[];
    /** What was removed in the last 24 hours, to the hour. */
    removedLastDay: Removed | null;
    /** Bytes in use at steps of a day back from now, oldest first; of the last month, as far as it is known. */
    history: { at: IsoTime; usedBytes: number }[];
    overrun: {
      at10: IsoTime | null;
      at50: IsoTime | null;
      at90: IsoTime | null;
      within24h: number;
      within72h: number;
      within7d: number;
      /** `not-enough-history`, `early-estimate` or `shoot-days-seen`. With the first no date is told, and no chance: 0. */
      basis: string;
      shootDays: number;
      shootDayBytes: number;
      planned: boolean;
      /** Bytes that may be in use then: 10, 50 and 90 % of cases have no more. Empty with too little history. */
      band: { at: IsoTime; lowBytes: number; likelyBytes: number; highBytes: number }[];
      fullAt10: IsoTime | null;
      fullAt50: IsoTime | null;
      fullAt90: IsoTime | null;
      /** As it would be without any plan; `null` without one. */
      withoutPlanAt50: IsoTime | null;
    } | null;
  };
  speed: {
    /** What may be asked for: the reserve is off. Of reading for as many streams as the demand has. */
    readBudgetBps: number | null;
    writeBudgetBps: number | null;
    basis: SpeedBasis | null;
    /** Four in five such volumes may be asked for something between. */
    range: SpeedAssessment['range'];
    reserveShare: number;
    ambientReadBps: number | null;
    ambientWriteBps: number | null;
    demandBps: number | null;
    demandParts: SpeedAssessment['demandParts'];
    demandFrom: string | null;
    streams: number | null;
    /** What goes on now, playback among it; `null`: nothing is told of its drives. */
    load: { share: number; readBps: number; writeBps: number; ownReadBps: number } | null;
    headroom: number | null;
    anglesLeft: number | null;
  };
  safety: SafetySnapshot;
  /** Bytes outside projects: shared, unassigned, trash. */
  areas: { area: ProjectSum['area']; bytes: number; footageBytes: number }[];
}

const DAY_MS = 86_400_000;
const NO_BACKUP = { verifiedAt: null, outlook: null };

/** One working volume; figures of one that is not live are the last known. */
export function volumeSnapshot(
  volume: VolumeAssessment,
  iso: IsoOf,
  safety: SafetySnapshot = safetySnapshot(volume, NO_BACKUP, iso),
): VolumeSnapshot {
  return {
    name: display(volume.name),
    path: display(volume.path),
    state: VOLUME_STATES[volume.state],
    stateDetail: displayOrNull(volume.stateDetail),
    stale: volume.stale,
    layout: layoutOf(volume),
    capacity: capacityOf(volume, iso),
    speed: speedOf(volume),
    safety,
    areas: volume.areas.map(({ area, bytes, footageBytes }) => ({ area, bytes, footageBytes })),
  };
}

function layoutOf({
  layout,
  declaredLayout,
  detected,
  fileSystem,
  mountOptions,
}: VolumeAssessment): VolumeSnapshot['layout'] {
  return {
    level: layout?.level ?? null,
    members: layout?.members ?? null,
    drive: layout?.drive ?? null,
    link: displayOrNull(layout?.link ?? null),
    ...{ fileSystem, mountOptions: mountOptions.map(display) },
    basis: layout?.basis ?? null,
    declared: declaredLayout,
    detected: detected === null ? null : detectedOf(detected),
  };
}

function detectedOf({
  level,
  members,
  drive,
  link,
  by,
  health,
  drives,
  notSeen,
}: DetectedLayout): VolumeSnapshot['layout']['detected'] {
  return {
    ...{ level, members, drive, link: link?.name ?? null, by, health },
    drives: drives.map(({ name, model, serial, bytes, transport }) => {
      return { name: display(name), model: displayOrNull(model), serial: displayOrNull(serial), bytes, transport };
    }),
    notSeen: notSeen.map(display),
  };
}

function capacityOf(
  { capacity, removed, forecast, footageLeft, fileSystem, sharesRoomWith }: VolumeAssessment,
  iso: IsoOf,
): VolumeSnapshot['capacity'] {
  return {
    totalBytes: capacity?.space.totalBytes ?? null,
    usedBytes: capacity === null ? null : usedBytes(capacity.space),
    freeBytes: capacity?.space.freeBytes ?? null,
    availableBytes: capacity?.space.availableBytes ?? null,
    reserveBytes: capacity?.reserveBytes ?? null,
    roomBytes: capacity?.roomBytes ?? null,
    footageSecondsLeft: wholeOrNull(footageLeft?.reserveSeconds),
    footageSecondsUntilFull: wholeOrNull(footageLeft?.fullSeconds),
    footageCameras: footageLeft?.cameras ?? null,
    notes: capacity === null ? [] : capacityNotes(fileSystem, capacity.space, sharesRoomWith.map(display)),
    removedLastDay: removed,
    history: forecast === null ? [] : historyOf(forecast, iso),
    overrun: forecast === null || capacity === null ? null : overrunOf(forecast, usedBytes(capacity.space), iso),
  };
}

function historyOf({ at, history }: CapacityForecast, iso: IsoOf): VolumeSnapshot['capacity']['history'] {
  return history.map((one) => ({
    at: iso(Math.round(at - one.daysAgo * DAY_MS)),
    usedBytes: Math.round(one.usedBytes),
  }));
}

function overrunOf(
  { at, basis, shootDays, shootDayBytes, planned, reserve, full, withoutPlan, band }: CapacityForecast,
  used: number,
  iso: IsoOf,
): VolumeSnapshot['capacity']['overrun'] {
  const when = (days: number | null | undefined) =>
    days === null || days === undefined ? null : iso(Math.round(at + days * DAY_MS));
  return {
    ...{ at10: when(reserve?.at10), at50: when(reserve?.at50), at90: when(reserve?.at90) },
    ...{ within24h: reserve?.within24h ?? 0, within72h: reserve?.within72h ?? 0, within7d: reserve?.within7d ?? 0 },
    ...{ basis, shootDays, shootDayBytes: Math.round(shootDayBytes), planned },
    band: (band ?? []).map(({ days, low, likely, high }) => ({
      at: iso(Math.round(at + days * DAY_MS)),
      lowBytes: Math.round(used + low),
      likelyBytes: Math.round(used + likely),
      highBytes: Math.round(used + high),
    })),
    ...{ fullAt10: when(full?.at10), fullAt50: when(full?.at50), fullAt90: when(full?.at90) },
    withoutPlanAt50: when(withoutPlan?.at50),
  };
}

function speedOf({ speed, load }: VolumeAssessment): VolumeSnapshot['speed'] {
  return {
    readBudgetBps: wholeOrNull(speed.readBudgetBps),
    writeBudgetBps: wholeOrNull(speed.writeBudgetBps),
    basis: speed.basis,
    range: speed.range === null ? null : whole(speed.range),
    reserveShare: speed.reserveShare,
    ambientReadBps: wholeOrNull(speed.ambient?.readBps),
    ambientWriteBps: wholeOrNull(speed.ambient?.writeBps),
    demandBps: wholeOrNull(speed.demandBps),
    demandParts: speed.demandParts === null ? null : whole(speed.demandParts),
    demandFrom: displayOrNull(speed.demandFrom),
    streams: speed.streams,
    load: loadOf(load),
    headroom: speed.headroom,
    anglesLeft: speed.anglesLeft,
  };
}

function loadOf(load: VolumeAssessment['load']): VolumeSnapshot['speed']['load'] {
  if (load === null) return null;
  const { share, readBps, writeBps, ownReadBps } = load;
  return { share, ...whole({ readBps, writeBps, ownReadBps }) };
}

/** Nobody wants to read a thousandth of a byte per second. */
function whole<Rates extends object>(rates: Rates): Rates {
  return Object.fromEntries(Object.entries(rates).map(([name, bps]) => [name, Math.round(bps)])) as Rates;
}

function wholeOrNull(bps: number | null | undefined): number | null {
  return bps === null || bps === undefined ? null : Math.round(bps);
}
