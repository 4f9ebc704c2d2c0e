import type { LoadAssessment, ProjectAssessment, VolumeAssessment } from '../../core/assess/assessment.ts';
import { assessCapacity } from '../../core/assess/capacity.ts';
import { type KnownLayout, knownLayout } from '../../core/assess/detected-layout.ts';
import { assessExposure } from '../../core/assess/exposure.ts';
import { measuredSpeed } from '../../core/assess/measured-speed.ts';
import type { Removed } from '../../core/assess/removed.ts';
import { type AmbientLoad, assessSpeed } from '../../core/assess/speed-budget.ts';
import { pointsOf, type SpeedSample, sampleEvidence } from '../../core/assess/speed-sample.ts';
import { playbackDemand } from '../../core/assess/stream-load.ts';
import { volumeGives } from '../../core/assess/volume-speed.ts';
import type { Clip, Instant, PathText, Space } from '../../core/model.ts';
import type { VolumeSettings } from '../../settings/settings.ts';
import type { RootNow } from '../intake/root-state.ts';
import type { ShownArrivals } from '../intake/shown-arrivals.ts';
import type { VolumeDrives } from './drive-view.ts';
import type { VolumeLoad } from './load-view.ts';
import type { KnownRoom } from './space-view.ts';

/** What the assessment needs to know of one watched volume. */
export interface VolumeSource {
  settings: VolumeSettings;
  fileSystem: string | null;
  mountOptions: readonly string[];
  /** The file system's device (`major:minor`); `null`: not known. */
  mountedFrom: string | null;
  state(): RootNow;
  /** Every folder was read once since the start; before that, sums may be a part. */
  complete(): boolean;
  /** Rejects while the root is absent or hung. */
  space(): Promise<Space>;
  /** With lines for whatever these paths belong to. */
  arrivals(about: Iterable<PathText>): ShownArrivals;
}

/** A project, as far as its footage tells of it. */
export type KnownProject = Omit<ProjectAssessment, 'edit'>;

/** The footage as the last pass read it: sums and groups by project, and the newest clips of each volume. */
export interface KnownFootage {
  projects: KnownProject[];
  newest: ReadonlyMap<string, readonly Clip[]>;
  /** Volumes with projects whose multicam groups are not searched for yet: what must be played at once is not known. */
  unsearched: ReadonlySet<string>;
}

/** What was asked of the volumes in one pass, by volume name; a volume without an entry has not answered yet. */
export interface VolumeAnswers {
  at: Instant;
  rooms: ReadonlyMap<string, KnownRoom>;
  removed: ReadonlyMap<string, Removed>;
  loads: ReadonlyMap<string, VolumeLoad>;
  /** What was measured of a volume. */
  samples: (volume: string) => readonly SpeedSample[];
  drives: (volume: string) => VolumeDrives;
  wanted: (volume: string) => VolumeAssessment['wanted'];
}

/** Puts together what is known of each volume. */
export function assessVolumes(
  volumes: readonly VolumeSource[],
  { at, rooms, removed, loads, samples, drives, wanted }: VolumeAnswers,
  known: KnownFootage,
): VolumeAssessment[] {
  return volumes.map((volume) => {
    const { name, path, layout: declared, reserve } = volume.settings;
    const { state, detail, watchLimit = null } = volume.state();
    const room = rooms.get(name);
    const seen = loads.get(name) ?? null;
    const { detected, signs } = drives(name);
    const layout = knownLayout(declared, detected);
    const mine = known.projects.filter(({ sum }) => sum.volume === name);
    return {
      name,
      path,
      state,
      stateDetail: detail,
      watchLimit,
      stale: state !== 'live' || room?.fresh !== true,
      fileSystem: volume.fileSystem,
      mountOptions: volume.mountOptions,
      sharesRoomWith: sharing(volume, volumes),
      declaredLayout: declared,
      ...{ detected, layout, signs },
      capacity: room === undefined ? null : assessCapacity(room.space, reserve),
      readOnly: room?.space.readOnly === true ? { turnedAt: room.turnedReadOnlyAt } : null,
      ...{ forecast: null, footageLeft: null, session: null },
      speed: speedOf(volume, { space: room?.space ?? null, seen, measured: samples(name), layout, at }, known),
      measured: measuredSpeed(samples(name), layout, room === undefined ? 0 : filledShare(room.space)),
      load: loadOf(seen),
      // Of a volume that was not read yet nothing is known to be safe.
      safety: volume.complete() ? assessExposure(mine.map(({ sum }) => sum)) : null,
      wanted: wanted(name),
      removed: removed.get(name) ?? null,
      areas: mine.filter(({ sum }) => sum.area !== 'project').map(({ sum }) => sum),
    };
  });
}

/** Names of the others on the same file system: their room is the same room. */
function sharing({ mountedFrom, settings }: VolumeSource, volumes: readonly VolumeSource[]): string[] {
  if (mountedFrom === null) return [];
  return volumes
    .filter((other) => other.mountedFrom === mountedFrom && other.settings.name !== settings.name)
    .map((other) => other.settings.name);
}

interface Looked {
  space: Space | null;
  seen: VolumeLoad | null;
  measured: readonly SpeedSample[];
  layout: KnownLayout | null;
  at: Instant;
}

function speedOf(
  { settings }: VolumeSource,
  { space, seen, measured, layout, at }: Looked,
  known: KnownFootage,
): VolumeAssessment['speed'] {
  const { name, speed, speedReserve } = settings;
  const groups = known.projects.filter(({ sum }) => sum.volume === name).flatMap(({ multicam }) => multicam);
  const demand = known.unsearched.has(name) ? null : playbackDemand(groups, known.newest.get(name) ?? []);
  const samples = sampleEvidence(measured);
  const knowledge = {
    declared: speed,
    layout: layout?.speed ?? null,
    filled: space === null ? null : filledShare(space),
    read: [...samples.read, ...(seen?.seen.read ?? [])],
    write: [...samples.write, ...(seen?.seen.write ?? [])],
    points: pointsOf(measured),
  };
  return assessSpeed(volumeGives(knowledge, at), speedReserve, demand, ambientOf(seen));
}

/** While clips are being read that may be the playback, which must not be counted twice: then only what is ours counts. */
function ambientOf(load: VolumeLoad | null): AmbientLoad | null {
  if (load === null || load.lately === null) return null;
  const { ownReadBps, readBps, writeBps } = load.lately;
  return { readBps: asWork(load.beingRead.size === 0 ? readBps : ownReadBps), writeBps: asWork(writeBps) };
}

/** Less than this is the system's own housekeeping, which comes and goes with every second. */
const HOUSEKEEPING_BPS = 1_000_000;

function asWork(bps: number): number {
  return bps < HOUSEKEEPING_BPS ? 0 : bps;
}

function loadOf(load: VolumeLoad | null): LoadAssessment | null {
  if (load === null || load.sample === null || load.watch.load === null) return null;
  const { readBps, writeBps, ownReadBps } = load.sample;
  return { share: load.watch.load, isHigh: load.watch.isHigh, readBps, writeBps, ownReadBps };
}

function filledShare({ totalBytes, freeBytes }: Space): number {
  return totalBytes > 0 ? (totalBytes - freeBytes) / totalBytes : 0;
}
