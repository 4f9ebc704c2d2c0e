import { messageOf } from '../../core/fault.ts';
import type { Instant } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { RootPort } from '../../core/root-port.ts';

/** A sweep that somebody asked for: every folder of a volume is read again. */
export interface SweepRun {
  volume: string;
  startedAt: Instant;
  /** `null`: it goes on. */
  endedAt: Instant | null;
  /** Why it did not come to its end; `null`: it did, or goes on. */
  why: string | null;
}

export interface SweepDesk {
  /** Of a volume, by its name or path, or all (`null`): which, or in a sentence why none. One that goes on is joined. */
  begin(volume: string | null): { begun: string[] } | { problem: string };
  /** The last of each volume that was asked for since the start. */
  view(): SweepRun[];
}

interface Swept {
  settings: { name: string; path: string };
  root: Pick<RootPort, 'sweep'>;
}

/** Finds now what events missed, without waiting for the sweep that comes by itself. */
export function createSweepDesk(volumes: readonly Swept[], clock: Pick<Clock, 'now'>, log: Log): SweepDesk {
  const runs = new Map<string, SweepRun>();

  async function sweep({ settings: { name }, root }: Swept): Promise<void> {
    const run: SweepRun = { volume: display(name), startedAt: clock.now(), endedAt: null, why: null };
    runs.set(name, run);
    log.info({ volume: name }, `${display(name)}: every folder is read again, as somebody asked.`);
    try {
      await root.sweep();
      runs.set(name, { ...run, endedAt: clock.now() });
    } catch (error) {
      runs.set(name, { ...run, endedAt: clock.now(), why: display(messageOf(error)) });
    }
  }

  return {
    begin(volume) {
      const wanted = volumes.filter(
        ({ settings }) => volume === null || settings.name === volume || settings.path === volume.replace(/\/+$/, ''),
      );
      if (wanted.length === 0) {
        const names = volumes.map(({ settings }) => display(settings.name)).join(', ');
        return { problem: `there is no volume ${display(volume ?? '')}; there are ${names}` };
      }
      for (const one of wanted) {
        const last = runs.get(one.settings.name);
        if (last === undefined || last.endedAt !== null) void sweep(one);
      }
      return { begun: wanted.map(({ settings }) => display(settings.name)) };
    },
    view: () => [...runs.values()],
  };
}
