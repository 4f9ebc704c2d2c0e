import { execFileSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { type Bench, until } from './headroomd.ts';

/*
 * Real clips of cameras that were set up in different ways, read by the real program: which of them ran together? Three scenes on the
 * morning of 4 March 2027, of different lengths; each camera starts and stops within a second of the others.
 */
export const SCENES = [
  { at: '09:00:00', seconds: 5 },
  { at: '09:03:10', seconds: 8 },
  { at: '09:08:40', seconds: 6 },
];
export const CAMERAS = ['A', 'B', 'C'];
const MORNING = '2027-03-04';

interface Shot {
  camera: string;
  scene: number;
  timecode: string | null;
  /** What the camera's clock showed, seconds ahead of the true time. */
  ahead: number;
}

function encode(volume: string, { camera, scene, timecode, ahead }: Shot): void {
  const { at, seconds } = SCENES[scene] ?? SCENES[0] ?? { at: '', seconds: 0 };
  const created = new Date(Date.parse(`${MORNING}T${at}Z`) + ahead * 1000).toISOString();
  const folder = join(volume, 'Tidewater Sessions', `CAM_${camera}`);
  mkdirSync(folder, { recursive: true });
  execFileSync('ffmpeg', [
    ...['-v', 'error', '-f', 'lavfi', '-i', `testsrc=size=160x90:rate=25:duration=${seconds}`],
    ...['-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p', '-metadata', `creation_time=${created}`],
    ...(timecode === null ? [] : ['-timecode', timecode]),
    join(folder, `scene${scene}_cam${camera}.mov`),
  ]);
}

/** How the cameras were set up. */
export interface Discipline {
  name: string;
  of: (camera: string, scene: number) => Pick<Shot, 'timecode' | 'ahead'>;
}

/** Each camera's counter goes on where it stopped. */
const COUNTER = ['01:00:00:00', '01:00:05:00', '01:00:13:00'];
/** Of a zone that is an hour ahead. */
const COMMON = ['10:00:00:00', '10:03:10:00', '10:08:40:00'];

export const DISCIPLINES = {
  recordRun: {
    name: 'record-run, clocks minutes apart',
    of: (camera, scene) => ({ timecode: COUNTER[scene] ?? null, ahead: { B: 252, C: -420 }[camera] ?? 0 }),
  },
  none: { name: 'no timecode', of: (camera) => ({ timecode: null, ahead: camera === 'B' ? 1 : 0 }) },
  jammed: {
    name: 'one timecode, a clock half an hour wrong',
    of: (camera, scene) => ({ timecode: COMMON[scene] ?? null, ahead: camera === 'C' ? 1800 : 0 }),
  },
} satisfies Record<string, Discipline>;

/** Makes all clips of a discipline below the place's volume, has the real program read them, and tells the groups it found. */
export async function groupsOf(place: Bench, { of }: Discipline) {
  for (const camera of CAMERAS) {
    for (const scene of SCENES.keys()) encode(place.volume, { camera, scene, ...of(camera, scene) });
  }
  const daemon = await place.start();
  const project = () => daemon.status().projects[0];
  await until('all clips are ready', () => project()?.clips === SCENES.length * CAMERAS.length);
  await until('groups are found', () => project()?.multicam.length === SCENES.length, 15).catch(() => {});
  return project()?.multicam ?? [];
}
