import { describe, expect, test } from 'vitest';
import { advise, NO_ADVICE } from '../../../src/core/advise/advise.ts';
import { display } from '../../../src/core/present/escape.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { RootState } from '../../../src/core/root-port.ts';
import {
  NOON,
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';

const CONTEXT = { version: '0.1.0', page: 'http://127.0.0.1:4700/', zone: 'Europe/Berlin' };
const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 0, clearAfter: 60 };

/** The promised keys. A list stands for a list whose members have these keys; `true` for a value of any type. */
const CONTRACT = {
  version: true,
  at: true,
  page: true,
  volumes: [
    {
      name: true,
      path: true,
      state: true,
      stale: true,
      layout: { level: true, members: true, drive: true, link: true, fileSystem: true, basis: true },
      capacity: {
        totalBytes: true,
        usedBytes: true,
        freeBytes: true,
        reserveBytes: true,
        footageSecondsLeft: true,
        overrun: true,
      },
      speed: {
        readBudgetBps: true,
        writeBudgetBps: true,
        basis: true,
        ambientReadBps: true,
        ambientWriteBps: true,
        demandBps: true,
        headroom: true,
        anglesLeft: true,
      },
      safety: {
        exposedBytes: true,
        exposedClips: true,
        exposedSeconds: true,
        exposedSince: true,
        lastVerifiedAt: true,
        nextBackupAt: true,
        windowFits: true,
        windowHeadroom: true,
        lossChance: true,
      },
    },
  ],
  shelves: [],
  projects: [
    {
      name: true,
      volume: true,
      bytes: true,
      footageBytes: true,
      otherBytes: true,
      clips: true,
      durationSeconds: true,
      formats: [
        { codec: true, width: true, height: true, frameRate: true, clips: true, bytes: true, bitrateBps: true },
      ],
      multicam: [
        {
          startsAt: true,
          endsAt: true,
          angles: true,
          cameras: true,
          demandBps: true,
          peakBps: true,
          confidence: true,
          evidence: true,
        },
      ],
      safety: { exposedBytes: true, exposedClips: true, verifiedCopies: true, onlyOnShelf: true },
    },
  ],
  arrivals: [{ path: true, state: true, reason: true, bytes: true, bytesPerSecond: true, since: true }],
  backups: [],
  advisories: [
    {
      id: true,
      code: true,
      snooze: true,
      kind: true,
      severity: true,
      subject: true,
      message: true,
      since: true,
      figures: true,
      remedies: [{ action: true, effect: true }],
    },
  ],
};

const FORMATS = [
  {
    codec: 'ProRes',
    width: 3840,
    height: 2160,
    frameRate: { num: 25, den: 1 },
    clips: 4,
    bytes: 8e9,
    timedBytes: 8e9,
    durationSeconds: 80,
  },
];

function full(over: Parameters<typeof sampleVolume>[0] = {}) {
  const assessment = sampleAssessment({
    volumes: [sampleVolume({ speed: { ...sampleVolume().speed, demandBps: 550e6 }, ...over })],
    projects: [
      { ...NOTHING_MADE, sum: sampleSum({ formats: FORMATS }), multicam: [sampleGroup()] },
      { ...NOTHING_MADE, sum: sampleSum({ area: 'trash', project: null }), multicam: [] },
    ],
    arrivals: [sampleArrival()],
  });
  return snapshot(assessment, advise(NO_ADVICE, assessment, THRESHOLDS, NOON).advisories, CONTEXT);
}

function walk(value: unknown, contract: unknown, path: string): void {
  if (contract === true) {
    expect(value, path).not.toBeUndefined();
  } else if (Array.isArray(contract)) {
    expect(Array.isArray(value), path).toBe(true);
    if (contract.length > 0) expect(value, `${path} has a member to check`).not.toEqual([]);
    for (const member of contract.length > 0 ? (value as unknown[]) : []) walk(member, contract[0], `${path}[]`);
  } else {
    for (const [key, inner] of Object.entries(contract as object)) {
      expect(value, path).toHaveProperty(key);
      walk((value as Record<string, unknown>)[key], inner, `${path}.${key}`);
    }
  }
}

describe('the contract', () => {
  test('has every key when all is known', () => walk(full(), CONTRACT, 'snapshot'));

  test('has every key when nothing is', () => {
    const speed = { ...sampleVolume().speed, readBudgetBps: null, writeBudgetBps: null, basis: null, demandBps: 550e6 };
    const unknown = full({
      capacity: null,
      safety: null,
      declaredLayout: null,
      layout: null,
      mountOptions: [],
      fileSystem: null,
      speed,
      path: '/media/stripe',
    });
    const [volume] = unknown.volumes;
    expect(volume?.capacity).toMatchObject({ totalBytes: null, usedBytes: null, freeBytes: null, reserveBytes: null });
    expect(volume?.safety).toMatchObject({ exposedBytes: null, exposedClips: null, exposedSeconds: null });
    expect(volume?.layout).toEqual({
      ...{ level: null, members: null, drive: null, link: null, fileSystem: null, mountOptions: [] },
      ...{ basis: null, declared: null, detected: null },
    });
    walk({ ...unknown, advisories: full().advisories }, CONTRACT, 'snapshot');
  });

  test('survives JSON', () => expect(JSON.parse(JSON.stringify(full()))).toEqual(full()));
});

describe('what it says', () => {
  test('instants with the offset of the zone', () => {
    const { at, advisories, arrivals } = full();
    expect(at).toBe('2027-03-04T13:00:00.000+01:00');
    for (const time of [advisories[0]?.since, arrivals[0]?.since])
      expect(time).toMatch(/^2027-03-04T\d\d:\d\d:00\.000\+01:00$/);
  });

  test.each<[RootState, string]>([
    ['starting', 'starting'],
    ['live', 'live'],
    ['absent', 'unknown'],
    ['hung', 'hung'],
  ])('a root that is %s is %s, with the last figures kept', (state, expected) => {
    const [volume] = full({ state, stale: true }).volumes;
    expect(volume).toMatchObject({ state: expected, stale: true, capacity: { usedBytes: 3e12, roomBytes: 6e11 } });
  });

  test('projects, without what is outside of them, and rates in bytes per second', () => {
    const { projects } = full();
    expect(projects).toHaveLength(1);
    expect(projects[0]).toMatchObject({
      name: 'Tidewater Sessions',
      bytes: 1e12,
      footageBytes: 9e11,
      otherBytes: 1e11,
      formats: [{ codec: 'ProRes', bitrateBps: 1e8 }],
      multicam: [{ angles: 5, peakBps: 550e6 }],
    });
  });

  test('unknown rates and exposure as null', () => {
    const sum = sampleSum({ exposed: null, formats: [{ ...FORMATS[0], durationSeconds: 0 } as (typeof FORMATS)[0]] });
    const multicam = [sampleGroup({ startsAt: null, endsAt: null })];
    const [project] = snapshot(
      sampleAssessment({ projects: [{ ...NOTHING_MADE, sum, multicam }] }),
      [],
      CONTEXT,
    ).projects;
    expect(project).toMatchObject({
      formats: [{ bitrateBps: null }],
      multicam: [{ startsAt: null, endsAt: null }],
      safety: { exposedBytes: null, exposedClips: null },
    });
  });

  test('of thousands of groups the heaviest, and how many there are', () => {
    const multicam = Array.from({ length: 3000 }, (_, index) => sampleGroup({ peakBps: 1e6 * ((index * 7) % 3000) }));
    const assessed = sampleAssessment({ projects: [{ ...NOTHING_MADE, sum: sampleSum(), multicam }] });
    const [project] = snapshot(assessed, [], CONTEXT).projects;
    expect([project?.multicamGroups, project?.multicam.length]).toEqual([3000, 100]);
    expect(project?.multicam.map(({ peakBps }) => peakBps / 1e6)).toEqual(
      Array.from({ length: 100 }, (_, index) => 2999 - index),
    );
  });

  test('exposure since when', () => {
    const safety = { exposedBytes: 5e9, exposedClips: 3, exposedSeconds: 60, exposedSince: NOON };
    expect(full({ safety }).volumes[0]?.safety).toMatchObject({ exposedBytes: 5e9, exposedSince: full().at });
  });
});

test('no text in it can harm a terminal', () => {
  const evil = 'x\u001b[2J\n\u202e\uf7e9';
  const volume = sampleVolume({ name: evil, path: `/media/${evil}`, stateDetail: evil, state: 'live' });
  const assessment = sampleAssessment({
    volumes: [{ ...volume, speed: { ...volume.speed, demandBps: 9e9, demandFrom: evil } }],
    projects: [
      {
        ...NOTHING_MADE,
        sum: sampleSum({
          volume: evil,
          project: evil,
          formats: [{ ...FORMATS[0], codec: evil } as (typeof FORMATS)[0]],
        }),
        multicam: [sampleGroup({ cameras: [evil], evidence: evil, peakBps: 9e9 })],
      },
    ],
    arrivals: [sampleArrival({ volume: evil, path: evil, detail: evil, stage: 'refused', reason: 'unreadable' })],
  });
  const { advisories } = advise(NO_ADVICE, assessment, THRESHOLDS, NOON);
  expect(advisories).toHaveLength(2);
  const texts = stringsOf(snapshot(assessment, advisories, { ...CONTEXT, page: null }));
  expect(texts.filter((text) => text !== display(text))).toEqual([]);
  expect(texts.filter((text) => text.includes('x\\x1b[2J\\n\\u{202e}\\xe9')).length).toBeGreaterThan(10);
});

function stringsOf(value: unknown): string[] {
  if (typeof value === 'string') return [value];
  return typeof value === 'object' && value !== null ? Object.values(value).flatMap(stringsOf) : [];
}
