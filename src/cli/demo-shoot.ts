import { closeSync, mkdirSync, openSync, readFileSync, renameSync, writeFileSync, writeSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';

/** The scripted shoot: a concert on five cameras, whose cards are copied as people copy cards. Invented throughout. */

const clips = fileURLToPath(new URL('../../test/fixtures/media', import.meta.url));

export const demoProject = 'Tidewater Sessions';

/** How one card's copy behaves. */
type Manner =
  | 'steady'
  | 'bursts' // stops for seconds between parts, as a busy reader does
  | 'renamed' // under a temporary name until the end
  | 'cut'; // the reader is pulled before the end

interface Step {
  /** Seconds after the start. */
  at: number;
  camera: string;
  reel: string;
  manner: Manner;
  /** What a person standing by would say is happening. */
  told: string;
}

const steps: readonly Step[] = [
  { at: 1, camera: 'a', reel: 'A001', manner: 'steady', told: 'card A001 is copied, without a stop' },
  { at: 5, camera: 'b', reel: 'B001', manner: 'bursts', told: 'card B001 is copied in bursts, with pauses of seconds' },
  {
    at: 8,
    camera: 'c',
    reel: 'C001',
    manner: 'renamed',
    told: 'card C001 is copied under a temporary name, renamed at the end',
  },
  { at: 14, camera: 'e', reel: 'E001', manner: 'cut', told: 'the reader with card E001 is pulled in mid-copy' },
  { at: 20, camera: 'd', reel: 'D001', manner: 'bursts', told: 'card D001 is copied in bursts' },
  {
    at: 36,
    camera: 'e',
    reel: 'E001',
    manner: 'steady',
    told: 'card E001 is copied again, whole this time: the fifth angle',
  },
];

/** Seconds from the start to the end of the last copy, with time for the daemon to take it in. */
export const shootSeconds = 52;

/**
 * Plays the shoot into `volume`.
 * @param tell called with each happening, once
 * @param signal ends the play early
 */
export async function playShoot(volume: string, tell: (what: string) => void, signal: AbortSignal): Promise<void> {
  const began = performance.now();
  const running = steps.map(async (step) => {
    await sleep(Math.max(0, step.at * 1000 - (performance.now() - began)), undefined, { signal });
    tell(step.told);
    await copyCard(volume, step, signal);
  });
  await Promise.all(running);
}

async function copyCard(volume: string, step: Step, signal: AbortSignal): Promise<void> {
  const name = `${step.reel}C001_270304_TS`;
  const folder = join(volume, demoProject, 'Footage', `CAM_${step.camera.toUpperCase()}`, step.reel);
  mkdirSync(folder, { recursive: true });
  const target = join(folder, `${name}.mov`);
  const bytes = readFileSync(join(clips, `tidewater-${step.camera}.mov`));
  if (step.manner === 'renamed') {
    const temporary = join(dirname(target), `${name}.mov.part`);
    await write(temporary, bytes, 6, 700, signal);
    renameSync(temporary, target);
  } else if (step.manner === 'cut') {
    await write(target, bytes.subarray(0, Math.floor(bytes.length * 0.6)), 3, 500, signal);
    return;
  } else {
    await write(target, bytes, step.manner === 'bursts' ? 4 : 8, step.manner === 'bursts' ? 2200 : 250, signal);
  }
  writeFileSync(join(folder, `${name}.xml`), sidecar(step.reel));
}

/** Writes in parts with one descriptor kept open, as a copying program does. */
async function write(
  path: string,
  bytes: Uint8Array,
  parts: number,
  pauseMs: number,
  signal: AbortSignal,
): Promise<void> {
  const fd = openSync(path, 'w');
  try {
    for (let part = 0; part < parts; part++) {
      const from = Math.floor((bytes.length * part) / parts);
      writeSync(fd, bytes, from, Math.floor((bytes.length * (part + 1)) / parts) - from);
      await sleep(pauseMs, undefined, { signal });
    }
  } finally {
    closeSync(fd);
  }
}

function sidecar(reel: string): string {
  return `<?xml version="1.0" encoding="UTF-8"?>\n<take reel="${reel}" number="1"><note>Tidewater Sessions, second set</note></take>\n`;
}
