import { expect, test } from 'vitest';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { VolumeSnapshot } from '../../../src/core/present/snapshot-volume.ts';
import { playSentence } from '../../../src/core/present/speed-sentences.ts';
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
