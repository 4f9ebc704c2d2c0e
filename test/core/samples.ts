import {
  type Assessment,
  type MulticamGroup,
  NOTHING_OF_MACHINE,
  type ProjectAssessment,
  type VolumeAssessment,
} from '../../src/core/assess/assessment.ts';
import { knownLayout } from '../../src/core/assess/detected-layout.ts';
import type { VolumeGives } from '../../src/core/assess/volume-speed.ts';
import { NO_BACKUPS } from '../../src/core/backup/backup-view.ts';
import { NONE_MADE, NOTHING_COPIED, noCopies, type ProjectCopies } from '../../src/core/backup/project-copies.ts';
import { NO_FACTS, NOTHING_KNOWN } from '../../src/core/intake/clip.ts';
import type { Arrival, Clip, ClipFacts } from '../../src/core/model.ts';
import type { ProjectSum } from '../../src/core/store-ports.ts';

/** 2027-03-04T12:00:00Z, a shooting day of the invented concert. */
export const NOON = 1_804_161_600_000;
export const SECOND = 1000;

/** A ready original of "Tidewater Sessions", 10 s of 100 MB/s; `facts` are laid over a plain 25 fps picture. */
export function sampleClip(over: Partial<Omit<Clip, 'facts'>> = {}, facts: Partial<ClipFacts> = {}): Clip {
  return {
    ...NOTHING_KNOWN,
    volume: 'stripe',
    unit: over.paths?.[0] ?? 'Tidewater Sessions/A001.mov',
    area: 'project',
    project: 'Tidewater Sessions',
    kind: 'original',
    name: 'A001.mov',
    paths: ['Tidewater Sessions/A001.mov'],
    fileCount: 1,
    bytes: 1e9,
    essenceBytes: 1e9,
    facts: {
      ...NO_FACTS,
      codec: 'ProRes',
      width: 1920,
      height: 1080,
      frameRate: { num: 25, den: 1 },
      durationSeconds: 10,
      ...facts,
    },
    state: 'ready',
    essenceCount: 1,
    parts: null,
    groupedBy: 'single-file',
    missingFrames: [],
    missingParts: [],
    missingNames: [],
    readyAt: NOON,
    evidence: 'container-whole',
    ...over,
  };
}

/** Of a project without proxies and renders, whose clips nobody has searched. */
export const NOTHING_MADE = {
  edit: { declared: false, plannedCameras: null, beingRead: new Set<string>() },
  made: { bytes: 0, replaceableBytes: 0, unsourced: NONE_MADE, lacking: NONE_MADE },
  copies: null,
  twice: null,
  hours: [],
  lacking: [],
  undecoded: [],
  differing: [],
} satisfies Partial<ProjectAssessment>;

export function sampleSum(over: Partial<ProjectSum> = {}): ProjectSum {
  return {
    volume: 'stripe',
    area: 'project',
    project: 'Tidewater Sessions',
    bytes: 1e12,
    footageBytes: 9e11,
    clips: 34,
    durationSeconds: 7500,
    byKind: { original: 9e11, cache: 1e11 },
    made: { clips: 0, bytes: 0, durationSeconds: 0 },
    formats: [],
    exposed: { bytes: 0, clips: 0, durationSeconds: 0, since: null },
    ...over,
  };
}

/** The copies of a project: so many bytes of footage have all they want, on two shelves, read back a week before noon or later. */
export function sampleCopies(bytes: number, over: Partial<ProjectCopies> = {}): ProjectCopies {
  const place = { volume: 'stripe', area: 'project' as const, project: 'Tidewater Sessions' };
  const copied = { bytes, oldestReadAt: NOON - 7 * 86_400_000, shelves: ['shelf-a', 'shelf-b'] };
  return { ...noCopies(place), footage: bytes === 0 ? NOTHING_COPIED : copied, fewest: bytes === 0 ? 0 : 2, ...over };
}

/** 4 TB, 1 TB of it free, 400 GB kept free; 420 MB/s may be asked for, 300 MB/s are. */
export function sampleVolume(over: Partial<VolumeAssessment> = {}): VolumeAssessment {
  return {
    name: 'stripe',
    path: '/media/stripe',
    state: 'live',
    stateDetail: null,
    watchLimit: null,
    stale: false,
    fileSystem: 'ext4',
    mountOptions: ['rw', 'relatime'],
    sharesRoomWith: [],
    declaredLayout: { level: '0', members: 4, drive: 'nvme', link: 'usb4' },
    detected: null,
    layout: knownLayout({ level: '0', members: 4, drive: 'nvme', link: 'usb4' }, null),
    signs: [],
    removed: { files: 0, bytes: 0, footageBytes: 0 },
    capacity: {
      space: { totalBytes: 4e12, freeBytes: 1e12, availableBytes: 1e12 },
      reserveBytes: 4e11,
      roomBytes: 6e11,
    },
    ...{ forecast: null, footageLeft: null, session: null, readOnly: null },
    speed: {
      readBudgetBps: 420e6,
      writeBudgetBps: 350e6,
      basis: 'declared',
      range: { readLowBps: 325e6, readHighBps: 543e6, writeLowBps: 271e6, writeHighBps: 452e6 },
      gives: sampleGives(600e6, { write: { likely: 500e6, low: 387e6, high: 646e6, basis: 'declared' } }),
      reserveShare: 0.3,
      ambient: null,
      demandBps: 300e6,
      demandParts: { anglesBps: 210e6, spreadBps: 0, transitionBps: 69e6, scrubBps: 21e6, ambientBps: 0 },
      streams: 3,
      demandFrom: 'playing 3 angles at once (cameras A, B, C)',
      headroom: 120 / 420,
      anglesLeft: 1,
    },
    ...{ measured: null, load: null },
    safety: { exposedBytes: 0, exposedClips: 0, exposedSeconds: 0, exposedSince: null },
    wanted: { copies: 2, readWithinDays: 60 },
    areas: [],
    ...over,
  };
}

/** A declared speed, writing as fast as reading. */
export function sampleGives(bps: number, over: Partial<VolumeGives> = {}): VolumeGives {
  const rate = { likely: bps, low: bps, high: bps, basis: 'declared' as const };
  return { read: rate, write: rate, points: [], drive: null, ...over };
}

export function sampleGroup(over: Partial<MulticamGroup> = {}): MulticamGroup {
  return {
    startsAt: NOON,
    endsAt: NOON + 60 * SECOND,
    angles: 5,
    cameras: ['A', 'B', 'C', 'D', 'E'],
    demandBps: 500e6,
    peakBps: 550e6,
    largestBps: 100e6,
    members: ['A', 'B', 'C', 'D', 'E'].map((camera) => ({
      camera,
      ...{ unit: `Tidewater Sessions/${camera}001.mov`, path: `Tidewater Sessions/${camera}001.mov` },
      ...{ bps: 100e6, proxy: null },
    })),
    readyAt: NOON,
    confidence: 0.85,
    evidence: 'same timecode on cameras A, B, C, D, E at 25 fps',
    frameRates: [{ num: 25, den: 1 }],
    cameraRates: [],
    ...over,
  };
}

export function sampleArrival(over: Partial<Arrival> = {}): Arrival {
  return {
    volume: 'stripe',
    unit: 'Tidewater Sessions/A002.mov',
    path: 'Tidewater Sessions/A002.mov',
    stage: 'copying',
    reason: 'growing',
    detail: null,
    bytes: 1.24e9,
    bytesPerSecond: 110e6,
    since: NOON - 60 * SECOND,
    ...over,
  };
}

export function sampleAssessment(over: Partial<Assessment> = {}): Assessment {
  return {
    ...{ at: NOON, zone: 'UTC' },
    volumes: [sampleVolume()],
    projects: [],
    arrivals: [],
    cards: [],
    unseen: [],
    onCards: null,
    plans: [],
    backups: NO_BACKUPS,
    machine: NOTHING_OF_MACHINE,
    stateTrouble: null,
    ...over,
  };
}
