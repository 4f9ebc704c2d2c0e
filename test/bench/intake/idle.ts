import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import { checkKnown, type Ground } from './ground.ts';
import { loadOf, ofACore, SETTLED_AFTER } from './load.ts';
import { clipCount, hundredThousandClips as shape } from './tree.ts';

const SECONDS = 120;

/** Nothing happens on a volume of 100,000 known clips. */
export async function measureIdle(ground: Ground): Promise<Figure[]> {
  const daemon = await ground.knowing(shape);
  try {
    await daemon.swept();
    await sleep(SETTLED_AFTER * 1000);
    const load = await loadOf(daemon.pid, SECONDS);
    await checkKnown(daemon, shape);
    return [ofACore(`idle: ${clipCount(shape)} clips known, all processes`, load, 0.3)];
  } finally {
    await daemon.end();
  }
}
