import { readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

/**
 * A process of its own: `write-frames.ts FRAME FOLDER FIRST COUNT RATE` writes copies of a frame under numbered names, so
 * many a second; with rate 0 as fast as it can.
 */
const [frame, folder, first, count, rate] = process.argv.slice(2);
if (frame === undefined) throw new Error('usage: write-frames.ts FRAME FOLDER FIRST COUNT RATE');

const bytes = readFileSync(frame);
const began = performance.now();
for (let written = 0; written < Number(count); written++) {
  if (Number(rate) > 0) await sleep(Math.max(0, (written / Number(rate)) * 1000 - (performance.now() - began)));
  writeFileSync(`${folder}/reel-01_${String(Number(first) + written).padStart(7, '0')}.dpx`, bytes);
}
