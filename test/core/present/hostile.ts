import fc from 'fast-check';
import type { Advisory } from '../../../src/core/advise/advisory.ts';
import { type Snooze, snoozeOf } from '../../../src/core/advise/snooze.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import { type Snapshot, snapshot } from '../../../src/core/present/snapshot.ts';
import { SAMPLE_CARD, sampleCard } from '../card-samples.ts';
import {
  NOON,
  NOTHING_MADE,
  SECOND,
  sampleArrival,
  sampleAssessment,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';

export const CONTEXT = { version: '0.1.0', page: 'http://127.0.0.1:4700/', zone: 'UTC' };

export const ADVISORY: Advisory = {
  id: 'speed-overrun:stripe',
  kind: 'speed-overrun',
  severity: 'warning',
  subject: 'stripe',
  message: 'stripe: playing 5 angles of Tidewater Sessions at once needs 550 MB/s, 130 MB/s too much.',
  since: NOON - 60 * SECOND,
  figures: {},
  remedies: [{ action: 'Play 3 of the 5 angles at once', effect: 'needs about 330 MB/s of 420 MB/s' }],
};

/** Said a minute later. */
export const KNOWN: Snooze = snoozeOf(
  { until: null, reason: '<b>shelf-b', by: 'anna' },
  'warning',
  NOON - 120 * SECOND,
);

export const PRORES = {
  codec: 'ProRes',
  width: 3840,
  height: 2160,
  frameRate: { num: 25, den: 1 },
  clips: 30,
  bytes: 9e11,
  timedBytes: 9e11,
  durationSeconds: 9000,
};

/** What a snapshot is made of: names from anywhere, one size for all, and how many there are of each. */
export interface Shape {
  names: string[];
  size: number;
  volumes: number;
  advisories: number;
  /** Advisories that somebody wants quiet. */
  snoozed: number;
  arrivals: number;
  projects: number;
  cards: number;
}

/** Names of any length and script, with controls, markup and what else a program may trip over. */
export function hostileShapes(): fc.Arbitrary<Shape> {
  const name = fc.oneof(
    fc.string({ unit: 'binary', maxLength: 120 }),
    fc.string({ unit: 'grapheme', maxLength: 120 }),
    pieces('潮', '한', 'あ', '🎬', '👨‍👩‍👧', 'Ｗ', ' '),
    pieces('<script>', '</p>', '"', "'", '&', '&#60;', '<!--', '\u0000', '\u001b[2J', '\n', '\u202e', '\u009b'),
    pieces('A001', ' '),
  );
  return fc.record({
    names: fc.array(name, { minLength: 6, maxLength: 6 }),
    size: fc.double({ min: -1e18, max: 1e18, noNaN: true }),
    volumes: fc.integer({ min: 1, max: 2 }),
    advisories: fc.nat(7),
    snoozed: fc.nat(3),
    arrivals: fc.nat(9),
    projects: fc.nat(9),
    cards: fc.nat(7),
  });
}

function pieces(...parts: string[]): fc.Arbitrary<string> {
  return fc.array(fc.constantFrom(...parts), { maxLength: 20 }).map((chosen) => chosen.join(''));
}

/** The message of the first advisory begins with `first: `, no other does. */
export function snapshotOf({ names, size, ...count }: Shape): Snapshot {
  const [volume = '', project = '', path = '', detail = '', camera = '', page = ''] = names;
  const sum = {
    ...NOTHING_MADE,
    sum: sampleSum({ project, volume, bytes: size, formats: [{ ...PRORES, codec: detail }] }),
  };
  const assessment = sampleAssessment({
    volumes: times(count.volumes, () => volumeOf(volume, path, detail, camera, size)),
    projects: times(count.projects, () => ({ ...NOTHING_MADE, ...sum, multicam: [sampleGroup({ evidence: camera })] })),
    cards: times(count.cards, () =>
      sampleCard([], { state: 'gone' }, { ...SAMPLE_CARD, name: project, place: path, gap: detail, layout: camera }),
    ),
    unseen: times(count.cards, () => ({ volume, root: path, layout: camera })),
    arrivals: times(count.arrivals, (index) =>
      sampleArrival({ path, detail, bytes: size, bytesPerSecond: size, stage: index === 0 ? 'ready' : 'stalled' }),
    ),
  });
  const advisories = times(count.advisories, (index) => ({
    ...ADVISORY,
    message: `${index === 0 ? 'first' : 'next'}: ${path} ${detail}`,
    remedies: [{ action: project, effect: volume }],
  }));
  const snoozed = times(count.snoozed, (index) => ({
    ...{ ...ADVISORY, message: `quiet: ${detail} ${path}` },
    snooze: { ...KNOWN, saidBy: camera, reason: project, until: index === 0 ? NOON : null, isKnown: index > 1 },
  }));
  return snapshot(assessment, [...advisories, ...snoozed], { ...CONTEXT, page });
}

function volumeOf(name: string, path: string, detail: string, camera: string, size: number) {
  return sampleVolume({
    name,
    path: `/${path}`,
    state: 'hung',
    stateDetail: detail,
    capacity: assessCapacity({ totalBytes: size, freeBytes: size / 2, availableBytes: size / 3 }, { share: 0.1 }),
    speed: { ...sampleVolume().speed, demandBps: size, demandFrom: camera },
    safety: { exposedBytes: size, exposedClips: 1, exposedSeconds: size, exposedSince: null },
    areas: [sampleSum({ volume: name, area: 'shared', project: null, bytes: size })],
  });
}

export function times<Item>(count: number, make: (index: number) => Item): Item[] {
  return Array.from({ length: count }, (_, index) => make(index));
}
