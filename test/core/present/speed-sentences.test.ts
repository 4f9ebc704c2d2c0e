import { expect, test } from 'vitest';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { VolumeSnapshot } from '../../../src/core/present/snapshot-volume.ts';
import { loadSentence, playSentence } from '../../../src/core/present/speed-sentences.ts';
import { sampleAssessment } from '../samples.ts';

const [volume] = snapshot(sampleAssessment(), [], { version: '0.1.0', page: null, zone: 'UTC' }).volumes;
if (volume === undefined) throw new Error('the sample is incomplete');

const speedOf = (speed: Partial<VolumeSnapshot['speed']>) =>
  playSentence({ ...volume, speed: { ...volume.speed, ...speed } });

test('can I play this, with as little known as possible', () => {
  expect(speedOf({ demandFrom: null, anglesLeft: null })).toBe(
    'Yes, if its declared speed is true: playing what was recorded last needs 300 MB/s of the 420 MB/s that may be asked for.',
  );
  expect(speedOf({ demandBps: 420e6 })).toMatch(/^Yes/);
  expect(speedOf({ demandBps: 421e6 })).toMatch(/^No: .*, 1\.00 MB\/s too much\.$/);
  expect(speedOf({ readBudgetBps: null })).toMatch(/^Not known: .* neither declared nor measured\.$/);
  expect(speedOf({ anglesLeft: 0 })).toMatch(/; no further angle would fit\.$/);
  expect(speedOf({ anglesLeft: 999 })).toMatch(/; many more angles of the largest would fit\.$/);
  const parts = { anglesBps: 1e8, spreadBps: 0, transitionBps: 1e8, scrubBps: 1e7, ambientBps: 9e7 };
  expect(speedOf({ demandParts: parts })).toMatch(
    / needs 300 MB\/s \(90\.0 MB\/s of it for other work that goes on there\) of the 420 MB\/s /,
  );
  expect(speedOf({ demandBps: null })).toMatch(/^Nothing to judge by/);
});

test.each([
  [320e6, /^Yes: /],
  [330e6, /^Probably: /],
  [430e6, /^Probably not: /],
  [550e6, /^No: /],
])('as sure as the range allows: %i', (demandBps, begins) => {
  expect(speedOf({ basis: 'measured', demandBps })).toMatch(begins);
});

test('what it rests on, and what would tell more', () => {
  expect(speedOf({ basis: 'layout' })).toMatch(
    / This is what such drives, put together so, usually give: between 325 MB\/s and 543 MB\/s in four of five cases; "headroomd measure stripe" tells what it is here\.$/,
  );
  expect(speedOf({ basis: 'measured' })).toMatch(
    / This rests on measurement: between 325 MB\/s and 543 MB\/s in four of five cases\.$/,
  );
  expect(speedOf({ basis: 'observed' })).toMatch(/ This rests on what was seen at work: /);
});

test('what goes on there', () => {
  const of = (load: VolumeSnapshot['speed']['load']) => loadSentence({ ...volume, speed: { ...volume.speed, load } });
  const load = { share: 0.874, readBps: 210e6, writeBps: 300e6, ownReadBps: 0 };
  expect(of(load)).toBe('Now: 210 MB/s read, 300 MB/s written; lately 87 % of what it gives.');
  expect(of({ ...load, ownReadBps: 12e6 })).toBe(
    'Now: 210 MB/s read, 12.0 MB/s of it by headroomd, 300 MB/s written; lately 87 % of what it gives.',
  );
  expect(of({ ...load, readBps: 0, writeBps: 4096 })).toBe('Now: quiet.');
  expect(of(null)).toBeNull();
});
