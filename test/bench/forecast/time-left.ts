import { cameraPaces, footageSeconds, type RecordedClip } from '../../../src/core/forecast/footage-left.ts';
import { generator } from '../../core/assess/noisy-day.ts';
import { type Figure, median } from '../figure.ts';

const DAYS = 300;
const ROOM = 800e9;
const CAMERAS = ['A', 'B', 'C', 'D'];

interface Setting {
  name: string;
  /** Of each clip's rate around the setting's own, in the logarithm. */
  sd: number;
  most: number;
}

const SETTINGS: readonly Setting[] = [
  { name: 'intra', sd: 0.005, most: 1 },
  { name: 'variable rate', sd: 0.2, most: 10 },
];

/** Mornings in one format, then another; asked some clips after the change how long the room lasts. */
export function measureTimeLeft(): Figure[] {
  return SETTINGS.map(({ name, sd, most }) => {
    const days = Array.from({ length: DAYS }, (_, index) => dayOf(index + 1, sd));
    const errors = days.map(({ clips, truth }) => errorOf(footageSeconds(ROOM, cameraPaces(clips), 1), truth));
    const plain = days.map(({ clips, truth }) => errorOf(plainAverage(clips), truth));
    const value = 100 * median(errors);
    return {
      name: `footage time left after a format change, ${name}: median error`,
      ...{ value, unit: '%', peer: { name: 'plain average', value: 100 * median(plain) } },
      ...{ goal: `<= ${most} %`, holds: value <= most },
    };
  });
}

function errorOf(told: number | null, truth: number): number {
  return told === null ? 1 : Math.abs(told / truth - 1);
}

function dayOf(seed: number, sd: number): { clips: RecordedClip[]; truth: number } {
  const random = generator(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const before = 20e6 * Math.exp(0.5 * normal());
  const after = before * (random() < 0.5 ? 2.5 : 0.4);
  const clips: RecordedClip[] = [];
  let at = 0;
  for (let take = 0; take < 40 + 2 + Math.floor(random() * 6); take++) {
    const rate = take < 40 ? before : after;
    const durationSeconds = 60 + 240 * random();
    at += 1000 * (durationSeconds + 120);
    for (const camera of CAMERAS) {
      const bytes = rate * durationSeconds * Math.exp(sd * normal());
      clips.push({ camera, at, bytes, durationSeconds, format: take < 40 ? 'before' : 'after' });
    }
  }
  return { clips, truth: ROOM / (CAMERAS.length * after * Math.exp((sd * sd) / 2)) };
}

function plainAverage(clips: readonly RecordedClip[]): number {
  const bytes = clips.reduce((sum, clip) => sum + clip.bytes, 0);
  const seconds = clips.reduce((sum, clip) => sum + clip.durationSeconds, 0);
  return ROOM / ((CAMERAS.length * bytes) / seconds);
}
