import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import { end } from './daemon.ts';
import type { Ground } from './ground.ts';
import { loadOf, ofACore, runBeside, SETTLED_AFTER } from './load.ts';

const FILES = 500;
const SECONDS = 60;

/** 500 files, kept open by another process, each growing every one to two seconds. */
export async function measureGrowing(ground: Ground): Promise<Figure[]> {
  const volume = join(ground.place('growing'), 'stripe');
  const folder = join(volume, 'Saltmarsh', 'Footage', 'A001');
  mkdirSync(folder, { recursive: true });
  const daemon = await ground.fresh([volume]);
  await daemon.swept();
  const writer = await runBeside('grow-files.ts', folder, String(FILES));
  try {
    await sleep(SETTLED_AFTER * 1000);
    const load = await loadOf(daemon.pid, SECONDS);
    const arrivals = (await daemon.snapshot())?.arrivalTotals.pending;
    if (arrivals !== FILES) throw new Error(`${arrivals} of ${FILES} growing files are arrivals`);
    return [ofACore(`growing: ${FILES} files at once, all processes`, load, 1)];
  } finally {
    await end(writer);
    await daemon.end();
  }
}
