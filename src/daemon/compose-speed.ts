import * as nodeFs from 'node:fs';
import type { Assessment } from '../core/assess/assessment.ts';
import { readQuestion } from '../core/assess/plan-question.ts';
import { readSample, type SpeedSample } from '../core/assess/speed-sample.ts';
import type { LoadPort } from '../core/load-port.ts';
import { systemClock } from '../rim/system/clock.ts';
import { kernelLoad } from '../rim/volume/load-port.ts';
import { mountOf } from '../rim/volume/mount.ts';
import { OpenReads } from '../rim/volume/open-reads.ts';
import type { RemoteRoot } from '../rim/watch/remote-root.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import type { LookDeps } from './assess/look.ts';
import { createPlanDesk, type PlanTold, plansAhead } from './assess/plan-desk.ts';

/** What the drives of the watched volumes do; the process of a volume's root works on that volume alone. */
export function composeLoad(volumes: () => readonly { settings: VolumeSettings; root: RemoteRoot }[]): LoadPort {
  const devices = (name: string) => {
    const volume = volumes().find(({ settings }) => settings.name === name);
    const mount = volume === undefined ? null : mountOf(nodeFs, volume.settings.path);
    if (volume === undefined || mount === null) return null;
    const { pid } = volume.root;
    return { top: mount.device, drives: [], copies: 1, pids: pid === null ? [] : [pid] };
  };
  const ownPids = () => new Set([process.pid, ...volumes().flatMap(({ root }) => root.pid ?? [])].map(String));
  const reads = new OpenReads(nodeFs, systemClock.ticks, ownPids);
  const folders = () => volumes().map(({ settings: { name, path } }) => ({ name, path }));
  return kernelLoad(nodeFs, devices, systemClock.ticks, () => reads.look(folders()));
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

/** The shoots that are to come, on the volumes where they will lie. */
export function composePlans(settings: FullSettings, zone: string): LookDeps['plans'] {
  return (now) => plansAhead(settings, now, todayIn(zone));
}

/** Answers questions about the coming shoot; its days are those of the zone `zone`. */
export function composePlan(
  settings: FullSettings,
  assessment: () => Assessment,
  zone: string,
): (question: unknown) => Promise<PlanTold> {
  const desk = createPlanDesk({ settings, assessment, today: () => todayIn(zone) });
  return async (question) => desk(readQuestion(question));
}

function todayIn(zone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(systemClock.now()).toZonedDateTimeISO(zone).toPlainDate().toString();
}
