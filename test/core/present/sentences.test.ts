import { describe, expect, test } from 'vitest';
import {
  arrivalSentence,
  lossSentence,
  outsideSentence,
  projectSentence,
  removedSentence,
  roomSentence,
  shortTime,
  stateSentence,
} from '../../../src/core/present/sentences.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { ProjectSnapshot } from '../../../src/core/present/snapshot-project.ts';
import type { VolumeSnapshot } from '../../../src/core/present/snapshot-volume.ts';
import { NOTHING_MADE, sampleArrival, sampleAssessment, sampleSum, sampleVolume } from '../samples.ts';

const AREAS = [
  sampleSum({ area: 'shared', project: null, bytes: 2e11 }),
  sampleSum({ area: 'unassigned', project: null, bytes: 0 }),
  sampleSum({ area: 'trash', project: null, bytes: 35e9 }),
];
const shown = snapshot(
  sampleAssessment({
    volumes: [sampleVolume({ areas: AREAS })],
    projects: [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [] }],
    arrivals: [sampleArrival({ bytesPerSecond: null, reason: 'unreadable', detail: 'EACCES' })],
  }),
  [],
  { version: '0.1.0', page: null, zone: 'UTC' },
);
const [volume, project, arrival] = [shown.volumes[0], shown.projects[0], shown.arrivals[0]];
if (volume === undefined || project === undefined || arrival === undefined) throw new Error('the sample is incomplete');

const roomOf = (capacity: Partial<VolumeSnapshot['capacity']>) =>
  roomSentence({ ...volume, capacity: { ...volume.capacity, ...capacity } });
const lossOf = (safety: Partial<VolumeSnapshot['safety']>) =>
  lossSentence({ ...volume, safety: { ...volume.safety, ...safety } }, shown.at);
const projectOf = (over: Partial<ProjectSnapshot>) => projectSentence({ ...project, ...over }, shown.at);

test('how long is there room', () => {
  expect(roomOf({ footageSecondsLeft: 7500 })).toBe(
    '600 GB, about 2 h 05 min of recording, until the 400 GB kept free is touched; 3.00 TB of 4.00 TB in use.',
  );
  expect(roomOf({ footageSecondsLeft: 7500, footageCameras: 4 })).toMatch(
    /about 2 h 05 min of recording by 4 cameras at once, until/,
  );
  expect(roomOf({ usedBytes: null })).toBe('600 GB until the 400 GB kept free is touched.');
  expect(roomOf({ reserveBytes: 0, roomBytes: 1e12 })).toMatch(/^1\.00 TB until it is full; /);
  expect(roomOf({ reserveBytes: null })).toBe('Not known.');
});

test('what was removed', () => {
  const of = (removedLastDay: VolumeSnapshot['capacity']['removedLastDay']) =>
    removedSentence({ ...volume, capacity: { ...volume.capacity, removedLastDay } });
  expect(of({ files: 12, bytes: 340e9, footageBytes: 300e9 })).toBe(
    'Removed in the last 24 hours: 12 files, 340 GB, 300 GB of it footage.',
  );
  expect(of({ files: 1, bytes: 5e6, footageBytes: 0 })).toBe('Removed in the last 24 hours: 1 file, 5.00 MB.');
  expect(of({ files: 0, bytes: 0, footageBytes: 0 })).toBe(null);
  expect(of(null)).toBe(null);
});

// What ext4 keeps for root, 5 % of all of it if nothing else was asked for (mke2fs(8), option -m), is worth a word.
test.each([
  ['unknown', null, '3.00 TB of 4.00 TB in use.'],
  ['nothing', 4e12, '3.00 TB of 4.00 TB in use.'],
  ['a twentieth', 4.2e12, '3.00 TB of 4.00 TB in use.'],
  ['as ext4', 4e12 / 0.95, '3.00 TB of 4.00 TB in use (the file system holds 211 GB back).'],
  ['more', 4.3e12, '3.00 TB of 4.00 TB in use (the file system holds 300 GB back).'],
])('what a file system holds back for itself: %s', (_, totalBytes, words) =>
  expect(roomOf({ totalBytes })).toBe(`600 GB until the 400 GB kept free is touched; ${words}`),
);

test('what a volume that is not live says, and why', () => {
  const stateOf = (over: Partial<VolumeSnapshot>) => stateSentence({ ...volume, ...over });
  expect(stateOf({ state: 'live', stateDetail: 'as ever' })).toBeNull();
  expect(stateOf({ state: 'hung', stateDetail: null })).toMatch(/^It does not answer\. What was known of it is kept/);
  expect(stateOf({ state: 'hung', stateDetail: "no answer for $& $' 10 s" })).toMatch(
    /^It does not answer \(no answer for \$& \$' 10 s\)\. What was known/,
  );
});

test('what would I lose', () => {
  expect(lossOf({})).toBe('No footage here waits for a copy, as far as is known.');
  expect(lossOf({ exposedBytes: 1e9, exposedClips: 1, exposedSeconds: null })).toBe(
    '1 clip (1.00 GB) has fewer verified copies than you want. Keep the cards.',
  );
  expect(lossOf({ exposedBytes: 1e9, exposedClips: 0 })).toBe(
    '1.00 GB of footage, no whole clip among it yet, has fewer verified copies than you want. Keep the cards.',
  );
  expect(lossOf({ exposedClips: null })).toMatch(/^Not known: .* keep the cards\.$/);
});

describe('a project', () => {
  const format = {
    codec: 'ProRes',
    width: 1920,
    height: 1080,
    frameRate: null,
    clips: 1,
    bytes: 1,
    durationSeconds: 0,
    bitrateBps: null,
  };

  test.each([
    ['no clips', [], '1.00 TB, 34 clips, 2 h 05 min.'],
    ['one format', [format], '1.00 TB, 34 clips, 2 h 05 min. All ProRes 1920x1080 (1 clip).'],
    [
      'many formats',
      [format, { ...format, codec: null, width: null }, format, format],
      '1.00 TB, 34 clips, 2 h 05 min. Mostly ProRes 1920x1080 (1 clip), then an unknown codec and 2 more formats.',
    ],
  ])('of %s', (_, formats, sentence) => expect(projectOf({ formats })).toBe(sentence));

  test('and what lies outside all of them', () => {
    expect(outsideSentence(volume)).toBe(
      'stripe, outside projects: 200 GB shared between projects, 35.0 GB in the trash.',
    );
    expect(outsideSentence({ ...volume, areas: [] })).toBeNull();
  });
});

test('an arrival of unknown speed with a detail', () => {
  expect(
    arrivalSentence({ ...arrival, reason: 'incomplete', detail: '900 of at least 1,200 bytes are there' }, shown.at),
  ).toBe('1.24 GB, since 11:59: its own structure says that bytes are missing (900 of at least 1,200 bytes are there)');
  expect(arrivalSentence(arrival, shown.at)).toBe('1.24 GB, since 11:59: it cannot be read (EACCES)');
});

test('times of another day carry their date', () => {
  expect(shortTime('2027-03-04T14:05:12.000+01:00', '2027-03-04T23:00:00.000+01:00')).toBe('14:05');
  expect(shortTime('2027-03-03T14:05:12.000+01:00', '2027-03-04T00:00:00.000+01:00')).toBe('2027-03-03 14:05');
});

test('a project tells the days it grew on', () => {
  const shootDays = [
    { day: '2027-03-02', bytes: 4e11, totalBytes: 4e11 },
    { day: '2027-03-04', bytes: 6e11, totalBytes: 1e12 },
  ];
  expect(projectOf({ shootDays, shootDayBytes: 4e11 })).toContain(
    ' Footage came on 2 days from 2027-03-02 to 2027-03-04, about 400 GB a day.',
  );
  expect(projectOf({ shootDays: shootDays.slice(1), shootDayBytes: 6e11 })).not.toContain('Footage came on');
});

test.each([
  [
    { cacheBytes: 2e11, madeBytes: 4e11, shootDays: 1.5 },
    ' What can be made again, 200 GB of caches included, takes the room of about 1.5 days of shooting.',
  ],
  [
    { cacheBytes: 0, madeBytes: 4e11, shootDays: 1 },
    ' What can be made again takes the room of about a day of shooting.',
  ],
  [{ cacheBytes: 2e11, madeBytes: 0, shootDays: 0.4 }, ' 200 GB are caches, which programs make again.'],
  [{ cacheBytes: 2e11, madeBytes: 0, shootDays: null }, ' 200 GB are caches, which programs make again.'],
])('a project tells what of it can be made again: %j', (regenerable, expected) => {
  expect(projectOf({ bytes: 1e12, regenerable }).endsWith(expected)).toBe(true);
});

test('of little that can be made again nothing is said', () => {
  const regenerable = { cacheBytes: 4e9, madeBytes: 0, shootDays: 0.1 };
  expect(projectOf({ bytes: 1e12, regenerable })).not.toMatch(/caches|made again/);
});
