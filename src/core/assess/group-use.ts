import type { MulticamGroup } from './assessment.ts';
import { needBps, type Playback } from './playback-need.ts';
import { readBudget } from './speed-budget.ts';
import { playbackOf } from './stream-load.ts';
import type { VolumeGives } from './volume-speed.ts';

/** Why the clips of a group are taken to be played together. Cameras that ran at the same time alone are no multicam edit. */
export type GroupUse =
  | 'declared' // the configuration says that the project is cut so
  | 'planned' // a shoot plan of the project has several cameras
  | 'played'; // their files are being read together

/** What is known of how a project is edited. */
export interface ProjectEdit {
  declared: boolean;
  /** Cameras of its shoot plan, of days to come; `null`: none is planned with several. */
  plannedCameras: number | null;
  /** Files that processes read just now, by path. */
  beingRead: ReadonlySet<string>;
}

/** What of a group is being read; `null`: not two of its angles at once. */
export function readingOf({ members }: MulticamGroup, beingRead: ReadonlySet<string>): 'originals' | 'proxies' | null {
  const originals = members.filter(({ path }) => beingRead.has(path)).length;
  if (originals >= 2) return 'originals';
  const proxies = members.filter(({ proxy }) => proxy !== null && beingRead.has(proxy.path)).length;
  return proxies >= 2 ? 'proxies' : null;
}

/** `null`: nothing says that it is played together. */
export function useOf(group: MulticamGroup, { declared, plannedCameras, beingRead }: ProjectEdit): GroupUse | null {
  if (readingOf(group, beingRead) !== null) return 'played';
  if (declared) return 'declared';
  return plannedCameras === null ? null : 'planned';
}

/** All angles as proxies, played together; `null` while one of them has none. How far their rates spread is taken as little. */
export function proxyPlayback({ members }: MulticamGroup): Playback | null {
  const rates = members.map(({ proxy }) => proxy?.bps ?? null).filter((bps) => bps !== null);
  if (rates.length < members.length || rates.length === 0) return null;
  const meanBps = rates.reduce((sum, bps) => sum + bps, 0);
  return { streams: rates.length, meanBps, spreadBps: 0, largestBps: Math.max(...rates) };
}

/** What a group needs of what the volume may be asked for. Bytes per second. */
export interface GroupNeed {
  originalsBps: number;
  /** With proxies in place of all angles; `null`: not all have one. */
  proxiesBps: number | null;
  /** Of reading so many streams, the reserve is off; `null`: not known. */
  budgetBps: number | null;
}

export function groupNeed(
  group: MulticamGroup,
  gives: VolumeGives | null,
  reserve: number,
  ambientBps: number,
): GroupNeed {
  const proxies = proxyPlayback(group);
  return {
    originalsBps: needBps(playbackOf(group), ambientBps),
    proxiesBps: proxies === null ? null : needBps(proxies, ambientBps),
    budgetBps: gives === null ? null : readBudget(gives, reserve, group.angles),
  };
}
