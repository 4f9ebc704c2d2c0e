import { execFileSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Bench, bench, until } from './headroomd.ts';

/*
 * Real clips of cameras that were set up in different ways, read by the real program: which of them ran together? Three scenes on the
 * morning of 4 March 2027, of different lengths; each camera starts and stops within a second of the others.
 */
const SCENES = [
  { at: '09:00:00', seconds: 5 },
  { at: '09:03:10', seconds: 8 },
  { at: '09:08:40', seconds: 6 },
];
const CAMERAS = ['A', 'B', 'C'];
const MORNING = '2027-03-04';

let place: Bench;
beforeEach(() => {
  place = bench();
});
afterEach(() => place.clear());

interface Shot {
  camera: string;
  scene: number;
  timecode: string | null;
  /** What the camera's clock showed, seconds ahead of the true time. */
  ahead: number;
}

function encode({ camera, scene, timecode, ahead }: Shot): void {
  const { at, seconds } = SCENES[scene] ?? SCENES[0] ?? { at: '', seconds: 0 };
  const created = new Date(Date.parse(`${MORNING}T${at}Z`) + ahead * 1000).toISOString();
  const folder = join(place.volume, 'Tidewater Sessions', `CAM_${camera}`);
  mkdirSync(folder, { recursive: true });
  execFileSync('ffmpeg', [
    ...['-v', 'error', '-f', 'lavfi', '-i', `testsrc=size=160x90:rate=25:duration=${seconds}`],
    ...['-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p', '-metadata', `creation_time=${created}`],
    ...(timecode === null ? [] : ['-timecode', timecode]),
    join(folder, `scene${scene}_cam${camera}.mov`),
  ]);
}

async function groups() {
  const daemon = await place.start();
  await until('all clips are ready', () => daemon.status().projects[0]?.clips === SCENES.length * CAMERAS.length);
  await until('groups are found', () => daemon.status().projects[0]?.multicam.length === SCENES.length, 15).catch(
    () => {},
  );
  return daemon.status().projects[0]?.multicam ?? [];
}

const shots = (of: (camera: string, scene: number) => Omit<Shot, 'camera' | 'scene'>) =>
  CAMERAS.flatMap((camera) => SCENES.map((_, scene) => encode({ camera, scene, ...of(camera, scene) })));

describe('three cameras, three scenes', () => {
  test('timecode that runs only while recording, and clocks minutes apart', async () => {
    // Each camera's counter goes on where it stopped; B is 4 min 12 s ahead, C 7 min behind.
    const ahead: Record<string, number> = { A: 0, B: 252, C: -420 };
    const counter = ['01:00:00:00', '01:00:05:00', '01:00:13:00'];
    shots((camera, scene) => ({ timecode: counter[scene] ?? null, ahead: ahead[camera] ?? 0 }));
    const found = await groups();
    expect(found.map(({ angles, cameras }) => [angles, cameras.join('')])).toEqual(SCENES.map(() => [3, 'ABC']));
    expect(found[0]?.evidence).toContain('clock of camera B set 4 min 12 s back');
    expect(found[0]?.evidence).toContain('clock of camera C set 7 min 00 s forward');
    expect(found[0]?.confidence).toBeLessThan(0.8);
  });

  test('no timecode at all', async () => {
    shots((camera) => ({ timecode: null, ahead: camera === 'B' ? 1 : 0 }));
    const found = await groups();
    expect(found.map(({ angles }) => angles)).toEqual([3, 3, 3]);
    expect(found[0]?.evidence).toMatch(/^same recording time on cameras A, B, C/);
  });

  test('one timecode for all, and recording times that are wrong by half an hour', async () => {
    const zone = ['10:00:00:00', '10:03:10:00', '10:08:40:00'];
    shots((camera, scene) => ({ timecode: zone[scene] ?? null, ahead: camera === 'C' ? 1800 : 0 }));
    const found = await groups();
    expect(found.map(({ angles }) => angles)).toEqual([3, 3, 3]);
    expect(found[0]?.evidence).toMatch(/^same timecode on cameras A, B, C at 25 fps$/);
  });
});
