import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createProber } from '../../../src/rim/probe/pool.ts';
import { type PassThrough, passThrough } from '../../process/traps/machine.ts';
import { bytesOf, scratchFolder, statOf } from './files.ts';

const scratch = scratchFolder();
const [behind, stripe] = [join(scratch.path, 'behind'), join(scratch.path, 'stripe')];
let volume: PassThrough | null = null;

beforeAll(async () => {
  for (const folder of [behind, stripe]) mkdirSync(folder);
  writeFileSync(join(behind, 'take.mov'), bytesOf('tidewater-a.mov'));
  volume = await passThrough(behind, stripe).catch((error: unknown) => {
    console.warn(`NOT CHECKED: a drive that stops answering in mid-probe. Nothing can be mounted here: ${error}`);
    return null;
  });
});
afterAll(async () => {
  await volume?.remove();
  scratch.remove();
});

test('a drive that stops answering is not the fault of the file, which is read when it answers again', async (context) => {
  if (volume === null) return context.skip();
  const prober = createProber({ limits: { stallMs: 500 }, now: () => performance.now() });
  const path = join(stripe, 'take.mov');
  const stat = statOf(path);
  try {
    expect(await prober.probe(path, stat)).toMatchObject({ ok: true });
    volume.server.kill('SIGSTOP');
    const stuck = await prober.probe(path, stat);
    expect(stuck).toEqual({ ok: false, reason: 'unreadable', detail: 'the drive did not answer for 500 ms' });
    const next = prober.probe(path, stat);
    const waited = await Promise.race([next, sleep(1500, 'waits')]);
    expect(waited).toBe('waits');
    volume.server.kill('SIGCONT');
    expect(await next).toMatchObject({ ok: true });
  } finally {
    volume.server.kill('SIGCONT');
    await prober.close();
  }
});
