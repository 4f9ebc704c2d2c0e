import { describe, expect, test } from 'vitest';
import {
  arrivalBasis,
  projectBasis,
  roomBasis,
  safetyBasis,
  speedBasis,
} from '../../../../src/core/present/html/basis.ts';
import { snapshot } from '../../../../src/core/present/snapshot.ts';
import { NOTHING_MADE, sampleAssessment, sampleGroup, sampleSum } from '../../samples.ts';
import { CONTEXT } from '../hostile.ts';

const shown = snapshot(
  sampleAssessment({ projects: [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [sampleGroup()] }] }),
  [],
  CONTEXT,
);
const [volume] = shown.volumes;
const [project] = shown.projects;
if (volume === undefined || project === undefined) throw new Error('both are there');

describe('where figures come from', () => {
  test('speed: what is needed part by part, what the budget rests on, what is off already', () => {
    expect(speedBasis(volume)).toEqual([
      'Needed: playing 3 angles at once (cameras A, B, C) (3 streams). That is 210 MB/s for the pictures in the mean, 0 MB/s for their peaks, 69.0 MB/s for a transition, 21.0 MB/s for going back and forth, 0 MB/s for other work that goes on.',
      'What it gives is what the configuration declares; nobody has measured it.',
      '30 % of its speed is kept free, and is off already in the 420 MB/s.',
    ]);
    const seen = { ...volume, speed: { ...volume.speed, basis: 'measured' as const } };
    expect(speedBasis(seen).at(-1)).toBe(
      'In four of five cases it may be asked for something between 325 MB/s and 543 MB/s.',
    );
    const none = {
      ...volume,
      speed: { ...volume.speed, basis: null, demandFrom: null, readBudgetBps: null, range: null },
    };
    expect(speedBasis(none)).toEqual(['What it gives is not known: it is neither declared, detected nor measured.']);
  });

  test('room: the file system, the reserve, and what a date is read off', () => {
    expect(roomBasis(volume, shown.at)).toEqual([
      'Room is what the file system tells, asked for at 12:00.',
      '400 GB are kept free by the configuration.',
      'When it will be full is told from three days with footage on, or with a shoot plan.',
    ]);
    expect(roomBasis({ ...volume, stale: true }, shown.at)[0]).toBe(
      'Room is what the file system tells, as it was last seen.',
    );
    expect(roomBasis({ ...volume, capacity: { ...volume.capacity, totalBytes: null } }, shown.at)).toHaveLength(1);
    const overrun = {
      ...{ shootDays: 9, shootDayBytes: 1e11, planned: true, basis: 'shoot-days-seen' },
    } as NonNullable<typeof volume.capacity.overrun>;
    expect(roomBasis({ ...volume, capacity: { ...volume.capacity, overrun } }, shown.at).at(-1)).toBe(
      'Dates are read off 300 futures drawn from the 9 days with footage so far, about 100 GB each, and the shoot plan. Nothing is taken to be deleted.',
    );
  });

  test('copies: what counts as one, and how old that knowledge is', () => {
    expect(safetyBasis(volume, shown.at).at(-1)).toBe('No copy of it was read back yet.');
    const read = { ...volume, safety: { ...volume.safety, lastVerifiedAt: '2027-03-03T05:10:00.000+00:00' } };
    expect(safetyBasis(read, shown.at).at(-1)).toBe(
      'A copy was last read back at 2027-03-03 05:10. What became of it since, nobody has looked.',
    );
  });

  test('projects and arrivals', () => {
    expect(projectBasis(project).at(-1)).toBe(
      'Angles: same timecode on cameras A, B, C, D, E at 25 fps; confidence 85 %.',
    );
    expect(
      projectBasis({ ...project, multicam: [], shootDays: [{ day: '2027-03-04', bytes: 1, totalBytes: 1 }] }),
    ).toHaveLength(2);
    expect(arrivalBasis().join(' ')).toContain('by name and size');
  });
});
