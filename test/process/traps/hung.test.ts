import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect } from 'vitest';
import { media, until } from '../headroomd.ts';
import { trap } from './abilities.ts';
import { type Daemon, type Ground, ground } from './ground.ts';
import { passThrough } from './machine.ts';

/** A mount whose server has stopped: every call on it hangs, and cannot be ended from within the process that made it. */
let place: Ground;

beforeAll(() => {
  place = ground();
});
afterAll(() => place.clear());

const clip = readFileSync(join(media, 'tidewater-a.mov'));

const state = (daemon: Daemon, volume: string) => daemon.volume(volume)?.state;

trap(
  'a mount that hangs is told as hung while the other volume goes on, comes back, and holds up no end',
  ['pass-through'],
  async () => {
    const [served, far, near] = ['served', 'far', 'near'].map((name) => join(place.folder, name)) as [
      string,
      string,
      string,
    ];
    for (const folder of [join(served, 'Saltmarsh'), far, join(near, 'Lock Keepers')])
      mkdirSync(folder, { recursive: true });
    writeFileSync(join(served, 'Saltmarsh', 'A001.mov'), clip);
    const mounted = await passThrough(served, far);
    place.undo(() => mounted.remove());
    const daemon = await place.start({ volumes: { far, near }, arrivals: ['sweep_every = "2 s"'] });
    await until(
      'both are live, the far clip is read',
      () =>
        state(daemon, 'far') === 'live' && state(daemon, 'near') === 'live' && daemon.clips('Saltmarsh').length === 1,
      40,
    );

    mounted.server.kill('SIGSTOP');
    await until('it is hung', () => state(daemon, 'far') === 'hung', 25);
    expect(daemon.clips('Saltmarsh')).toHaveLength(1);
    expect(daemon.project('Saltmarsh')?.bytes).toBe(clip.length);
    const written = performance.now();
    writeFileSync(join(near, 'Lock Keepers', 'A001.mov'), clip);
    await until('the other volume goes on', () => daemon.clips('Lock Keepers').length === 1, 5);
    console.info(`beside a hung mount a clip was taken in ${Math.round(performance.now() - written)} ms`);

    mounted.server.kill('SIGCONT');
    await until('it is live again', () => state(daemon, 'far') === 'live', 40);
    expect(daemon.clips('Saltmarsh')).toHaveLength(1);
    expect([daemon.told('gone').length, daemon.told('clip-ready', '/Saltmarsh/').length]).toEqual([0, 1]);

    mounted.server.kill('SIGSTOP');
    // Whatever the daemon asks of it now hangs.
    await new Promise((resolve) => setTimeout(resolve, 3000));
    const asked = performance.now();
    expect(await daemon.end('SIGTERM')).toBe(0);
    expect(performance.now() - asked).toBeLessThan(10_000);
  },
);
