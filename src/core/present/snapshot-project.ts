import type { MulticamGroup, ProjectAssessment } from '../assess/assessment.ts';
import { proxyPlayback } from '../assess/group-use.ts';
import { type Regenerable, regenerable } from '../assess/regenerable.ts';
import { projectGrowth, type ShootDay } from '../assess/shoot-days.ts';
import { HOUR_MS } from '../forecast/growth.ts';
import type { Kind, Ratio } from '../model.ts';
import type { FormatSum } from '../store-ports.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';

export interface ProjectSnapshot {
  name: string;
  volume: string;
  bytes: number;
  footageBytes: number;
  otherBytes: number;
  byKind: Partial<Record<Kind, number>>;
  /** Proxies and renders; those that could be made again from footage that is here are left out of exposure. `exposedBytes`: of the others, without their copies. */
  made: { bytes: number; replaceableBytes: number; unsourcedClips: number; exposedBytes: number };
  /** What programs can make again from footage that is here; in days of shooting as they are on its volume, where that is known. */
  regenerable: { cacheBytes: number; madeBytes: number; shootDays: number | null };
  /** Takes that seem to lie here more than once, and bytes of what is there once more; `null`: not looked for yet. */
  twice: { takes: number; bytes: number; sameSize: number } | null;
  clips: number;
  durationSeconds: number;
  /** Days on which footage came, by when its files were changed last, oldest first; and what came on a middle one. */
  shootDays: ShootDay[];
  shootDayBytes: number | null;
  /** Of footage. */
  formats: FormatSnapshot[];
  /** The heaviest of its groups, at most a hundred of them; and how many there are. */
  multicam: MulticamSnapshot[];
  multicamGroups: number;
  /** Nothing of it is left on its volume: all that it has is told under `safety.onlyOnShelf`. */
  gone: boolean;
  safety: ProjectSafetySnapshot;
}

export interface ProjectSafetySnapshot {
  exposedBytes: number | null;
  exposedClips: number | null;
  /** The smallest number of verified copies on different drives that a file of its footage has, those that are left on shelves alone among it. */
  verifiedCopies: number | null;
  /** Bytes of what was on the volume and is left on shelves alone, each file once. */
  onlyOnShelf: number | null;
  onlyOnShelfFiles: number | null;
  onlyOnShelfFootage: number | null;
  /** Names of the shelves that have it, and when the verified copy of it that was not read for longest was read back. */
  onlyOnShelfAt: string[];
  onlyOnShelfReadAt: IsoTime | null;
}

export interface FormatSnapshot {
  codec: string | null;
  width: number | null;
  height: number | null;
  frameRate: Ratio | null;
  clips: number;
  bytes: number;
  durationSeconds: number;
  /** Bytes per second, as every `...Bps`. */
  bitrateBps: number | null;
}

export interface MulticamSnapshot {
  startsAt: IsoTime | null;
  endsAt: IsoTime | null;
  angles: number;
  cameras: string[];
  demandBps: number;
  peakBps: number;
  /** Mean rate of its heaviest stream. */
  largestBps: number;
  /** All angles as proxies; `null`: not all have one. */
  proxiesBps: number | null;
  confidence: number;
  evidence: string;
}

/** One project: its footprint, formats, multicam groups and exposure. */
export function projectSnapshot(
  { sum, multicam, made, twice, hours, copies }: ProjectAssessment,
  iso: IsoOf,
  shootDayBytes: number | null = null,
): ProjectSnapshot {
  const growth = projectGrowth(hours, (hour) => iso(hour * HOUR_MS).slice(0, 10));
  return {
    name: display(sum.project ?? ''),
    volume: display(sum.volume),
    bytes: sum.bytes,
    footageBytes: sum.footageBytes,
    otherBytes: sum.bytes - sum.footageBytes,
    byKind: { ...sum.byKind },
    made: {
      ...{ bytes: made.bytes, replaceableBytes: made.replaceableBytes, unsourcedClips: made.unsourced.clips },
      exposedBytes: made.lacking.bytes,
    },
    regenerable: regenerableOf(regenerable(sum, made), shootDayBytes),
    twice: twice === null ? null : { takes: twice.takes, bytes: twice.bytes, sameSize: twice.sameSize },
    clips: sum.clips,
    durationSeconds: sum.durationSeconds,
    shootDays: growth?.days ?? [],
    shootDayBytes: growth?.middleBytes ?? null,
    formats: sum.formats.map(formatOf),
    multicam: heaviest(multicam).map((group) => multicamOf(group, iso)),
    multicamGroups: multicam.length,
    gone: isGone(sum, copies),
    safety: {
      exposedBytes: sum.exposed?.bytes ?? null,
      exposedClips: sum.exposed?.clips ?? null,
      verifiedCopies: fewestCopies(copies),
      ...onlyOnShelfOf(copies, iso),
    },
  };
}

function isGone(sum: ProjectAssessment['sum'], copies: ProjectAssessment['copies']): boolean {
  return copies !== null && copies.onlyOnShelf !== null && sum.bytes === 0 && sum.clips === 0;
}

function fewestCopies(copies: ProjectAssessment['copies']): number | null {
  const { footageBytes, fewest = null } = copies?.onlyOnShelf ?? { footageBytes: 0 };
  const each = [copies?.fewest ?? null, footageBytes > 0 ? fewest : null].filter((count) => count !== null);
  return each.length === 0 ? null : Math.min(...each);
}

function onlyOnShelfOf(
  copies: ProjectAssessment['copies'],
  iso: IsoOf,
): Omit<ProjectSafetySnapshot, 'exposedBytes' | 'exposedClips' | 'verifiedCopies'> {
  const only = copies?.onlyOnShelf ?? null;
  const none = copies === null ? null : 0;
  return {
    onlyOnShelf: only?.bytes ?? none,
    onlyOnShelfFiles: only?.files ?? none,
    onlyOnShelfFootage: only?.footageBytes ?? none,
    onlyOnShelfAt: (only?.shelves ?? []).map(({ name }) => display(name)),
    onlyOnShelfReadAt: only?.oldestReadAt == null ? null : iso(only.oldestReadAt),
  };
}

function regenerableOf(what: Regenerable, shootDayBytes: number | null): ProjectSnapshot['regenerable'] {
  const days = shootDayBytes === null || shootDayBytes <= 0 ? null : (what.cacheBytes + what.madeBytes) / shootDayBytes;
  return { ...what, shootDays: days === null ? null : Math.round(10 * days) / 10 };
}

/** The rate is what a second of it takes on the volume, sidecars included. */
function formatOf(format: FormatSum): FormatSnapshot {
  return {
    codec: displayOrNull(format.codec),
    width: format.width,
    height: format.height,
    frameRate: format.frameRate,
    clips: format.clips,
    bytes: format.bytes,
    durationSeconds: format.durationSeconds,
    bitrateBps: format.durationSeconds > 0 ? format.timedBytes / format.durationSeconds : null,
  };
}

/** A project of years has thousands, and a snapshot is made with every change. */
const MOST_GROUPS = 100;

function heaviest(groups: readonly MulticamGroup[]): readonly MulticamGroup[] {
  if (groups.length <= MOST_GROUPS) return groups;
  return groups.toSorted((one, other) => other.peakBps - one.peakBps).slice(0, MOST_GROUPS);
}

function multicamOf(group: MulticamGroup, iso: IsoOf): MulticamSnapshot {
  return {
    startsAt: group.startsAt === null ? null : iso(group.startsAt),
    endsAt: group.endsAt === null ? null : iso(group.endsAt),
    angles: group.angles,
    cameras: group.cameras.map(display),
    demandBps: group.demandBps,
    peakBps: group.peakBps,
    largestBps: group.largestBps,
    proxiesBps: proxyPlayback(group)?.meanBps ?? null,
    confidence: group.confidence,
    evidence: display(group.evidence),
  };
}
