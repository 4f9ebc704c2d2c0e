import * as nodeFs from 'node:fs';
import { dataMembers } from '../core/assess/array-level.ts';
import type { Assessment } from '../core/assess/assessment.ts';
import type { DetectedLayout } from '../core/assess/detected-layout.ts';
import { readQuestion } from '../core/assess/plan-question.ts';
import { readSample, type SpeedSample } from '../core/assess/speed-sample.ts';
import type { DrivePort } from '../core/drive-port.ts';
import type { DrawsOf } from '../core/forecast/draws.ts';
import type { LoadPort } from '../core/load-port.ts';
import { askSmart, runCommand } from '../rim/drives/commands.ts';
import { readStack } from '../rim/drives/stack.ts';
import { systemClock } from '../rim/system/clock.ts';
import { seededDraws } from '../rim/system/draws.ts';
import { kernelLoad } from '../rim/volume/load-port.ts';
import { type Mount, mountOf } from '../rim/volume/mount.ts';
import { OpenReads } from '../rim/volume/open-reads.ts';
import type { VolumeDevices } from '../rim/volume/volume-counters.ts';
import type { RemoteRoot } from '../rim/watch/remote-root.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import { parseRaster, parseRate } from '../settings/shoot.ts';
import type { AssessFlow } from './assess/assess-flow.ts';
import type { LookDeps } from './assess/look.ts';
import type { PlanBook } from './assess/plan-book.ts';
import { createPlanDesk, type PlanTold, plannedShoots, plansAhead } from './assess/plan-desk.ts';

/** Nothing is told of any drive: an invented speed has nothing to do with what goes on there. */
const NO_LOAD: LoadPort = { counters: () => new Map(), beingRead: async () => new Map() };

/** What the assessment learns of the volumes' speed and drives, and of the shoots to come. */
export function composeSpeed(
  { settings, zone, invented = false }: { settings: FullSettings; zone: string; invented?: boolean },
  book: PlanBook,
  world: {
    volumes: () => readonly { settings: VolumeSettings; root: RemoteRoot }[];
    assessment: () => Assessment;
  },
): { load: LoadPort; drives: DrivePort } & Pick<LookDeps, 'plans' | 'planned'> & { draws: DrawsOf } {
  const detected = (name: string) =>
    world.assessment().volumes.find((volume) => volume.name === name)?.detected ?? null;
  return {
    load: invented ? NO_LOAD : composeLoad(world.volumes, detected),
    drives: composeDrives(settings.volumes),
    plans: (now) => plansAhead(book.all(), settings, now, todayIn(zone)),
    planned: (plans) => plannedShoots(book.all(), plans, zone),
    draws: seededDraws,
  };
}

/** What the drives of the watched volumes do; the process of a volume's root works on that volume alone. */
function composeLoad(
  volumes: () => readonly { settings: VolumeSettings; root: RemoteRoot }[],
  detected: (volume: string) => DetectedLayout | null,
): LoadPort {
  const devices = (name: string) => {
    const volume = volumes().find(({ settings }) => settings.name === name);
    const mount = volume === undefined ? null : mountOf(nodeFs, volume.settings.path);
    if (volume === undefined || mount === null) return null;
    const { pid } = volume.root;
    const layout = detected(name);
    const drives = layout?.drives.map((drive) => drive.name) ?? [];
    return {
      top: mount.device,
      drives,
      copies: copiesOf(layout),
      pids: pid === null ? [] : [pid],
      network: networkOf(mount),
    };
  };
  const ownPids = () => new Set([process.pid, ...volumes().flatMap(({ root }) => root.pid ?? [])].map(String));
  const reads = new OpenReads(nodeFs, systemClock.ticks, ownPids);
  const folders = () => volumes().map(({ settings: { name, path } }) => ({ name, path }));
  return kernelLoad(nodeFs, devices, systemClock.ticks, () => reads.look(folders()));
}

/** Of which network file system the kernel counts what goes over the wire. */
function networkOf({ fileSystem, mountPoint, source }: Mount): NonNullable<VolumeDevices['network']> | null {
  if (fileSystem.startsWith('nfs')) return { kind: 'nfs', mountPoint };
  return fileSystem === 'cifs' || fileSystem === 'smb3' ? { kind: 'smb', source } : null;
}

/** How often each byte is written, all members together. */
function copiesOf(layout: DetectedLayout | null): number {
  const { level = null, members = 1 } = layout ?? {};
  if (level === null || level === 'linear' || members < 1) return 1;
  return members / dataMembers(level, members);
}

/** What the watched volumes lie on. */
function composeDrives(volumes: readonly VolumeSettings[]): DrivePort {
  return {
    async stack(name) {
      const volume = volumes.find((one) => one.name === name);
      const mount = volume === undefined ? null : mountOf(nodeFs, volume.path);
      return mount === null ? null : readStack(nodeFs, runCommand, mount);
    },
    smart: askSmart,
  };
}

/** Takes measurements that the command hands over; false for what is none. */
export function composeMeasured(
  { volumes }: FullSettings,
  measured: (sample: SpeedSample) => Promise<void>,
): (told: unknown) => Promise<boolean> {
  return async (told) => {
    const sample = readSample(told);
    if (sample === null || !volumes.some(({ name }) => name === sample.volume)) return false;
    await measured({ ...sample, at: systemClock.now() });
    return true;
  };
}

/** Answers questions about the coming shoot, and keeps it; its days are those of the zone `zone`. */
export function composePlan(
  { settings, zone }: { settings: FullSettings; zone: string },
  book: PlanBook,
  { assessment, chanceToFit, again }: Pick<AssessFlow, 'assessment' | 'chanceToFit' | 'again'>,
): {
  plan: (question: unknown) => Promise<PlanTold>;
  keepPlan: (question: unknown) => Promise<PlanTold>;
  dropPlans: (project: string) => Promise<unknown>;
} {
  const today = () => todayIn(zone);
  const desk = createPlanDesk({ settings, book, assessment, chanceToFit, zone, today, changed: again });
  return {
    async plan(question) {
      const read = withRead(question);
      return typeof read === 'string' ? { problem: read } : desk.ask(readQuestion(read));
    },
    async keepPlan(question) {
      const read = withRead(question);
      return typeof read === 'string' ? { problem: read } : desk.keep(readQuestion(read));
    },
    dropPlans: desk.drop,
  };
}

/** A question with its raster and frame rate as figures: on the page they are typed. What is wrong with one, in words. */
function withRead(question: unknown): object | string {
  const { raster, rate, ...rest } = Object(question) as Record<string, unknown>;
  const read = { ...rest, raster, rate };
  if (typeof raster === 'string') {
    const reading = parseRaster(raster);
    if (!reading.ok) return 'a raster is like "3840x2160"';
    read.raster = reading.value;
  }
  if (typeof rate === 'string') {
    const reading = parseRate(rate);
    if (!reading.ok)
      return `frames a second are like "25" or "24000/1001"${reading.hint === null ? '' : `; ${reading.hint}`}`;
    read.rate = reading.value;
  }
  return read;
}

function todayIn(zone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(systemClock.now()).toZonedDateTimeISO(zone).toPlainDate().toString();
}
