import { mkdirSync, realpathSync, symlinkSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect } from 'vitest';
import { type Bench, bench, until } from '../headroomd.ts';
import { trap } from './abilities.ts';
import { passThrough } from './machine.ts';

/** A folder named by hand on a mount whose server has stopped: nothing in the daemon's own process may ask for it. */
let place: Bench;
let unmount = async (): Promise<void> => {};

beforeAll(() => {
  place = bench();
});
afterAll(async () => {
  await unmount();
  await place.clear();
});

trap(
  'run FOLDER starts although the folder hangs, tells it as hung beside another one, and ends in time',
  ['pass-through'],
  async () => {
    const folder = realpathSync(place.folder);
    const [served, far, near] = ['served', 'far', 'near'].map((name) => join(folder, name)) as [string, string, string];
    for (const one of [join(served, 'Saltmarsh'), far, near]) mkdirSync(one, { recursive: true });
    const linked = join(folder, 'linked');
    symlinkSync(near, linked);
    const mounted = await passThrough(served, far);
    unmount = () => mounted.remove();
    mounted.server.kill('SIGSTOP');

    const asked = performance.now();
    const daemon = await place.start([far, linked]);
    console.info(`beside a hung folder the daemon answered after ${Math.round(performance.now() - asked)} ms`);
    const state = (name: string) => daemon.status().volumes.find((volume) => volume.name === name);
    await until('the other one is live, under its own name', () => state('near')?.state === 'live');
    await until('it is hung', () => state('far')?.state === 'hung');

    const ending = performance.now();
    expect(await daemon.end('SIGTERM')).toBe(0);
    console.info(`it ended after ${Math.round(performance.now() - ending)} ms`);
    expect(performance.now() - ending).toBeLessThan(10_000);
  },
);
