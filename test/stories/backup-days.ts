import { mkdirSync, mkdtempSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { assessExposure } from '../../src/core/assess/exposure.ts';
import type { BackupRun } from '../../src/core/backup/backup-run.ts';
import { tbHours } from '../../src/core/backup/exposure-time.ts';
import type { ShelfLook } from '../../src/core/backup/shelf-port.ts';
import type { Clock } from '../../src/core/ports.ts';
import { type BackupFlow, createBackupFlow } from '../../src/daemon/backup/backup-flow.ts';
import { createDueWatch, type DueWatch } from '../../src/daemon/backup/due-watch.ts';
import { createShelfWatch } from '../../src/daemon/backup/shelf-watch.ts';
import { createVolumeWatch, type VolumeWatch } from '../../src/daemon/backup/volume-watch.ts';
import { createCopyPort } from '../../src/rim/backup/copy-port.ts';
import { createShelfPort } from '../../src/rim/shelf/shelf-port.ts';
import { openStore } from '../../src/rim/store/store.ts';
import { systemClock } from '../../src/rim/system/clock.ts';
import { someFile } from '../contracts/catalogue.material.ts';
import { sampleAssessment, sampleVolume } from '../core/samples.ts';
import { type ShelfVolume, shelfVolume } from '../rim/backup/shelves.ts';

const SILENT = { debug() {}, info() {}, warn() {}, error() {} };
const ENTRY = fileURLToPath(new URL('../../src/daemon/compose-shelf.ts', import.meta.url));

/** Days that pass by steps, over a real store, two real shelves on drives of their own, and the real engine. */
export async function backupDays(from: number, nightly: string, zone: string) {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-days-'));
  const volume = { name: 'stripe', path: join(folder, 'stripe') };
  mkdirSync(volume.path);
  const drives: Record<string, ShelfVolume> = { 'shelf-a': shelfVolume('ext4'), 'shelf-b': shelfVolume('ext4') };
  for (const drive of Object.values(drives)) drive.mount();
  const shelves = Object.entries(drives).map(([name, { mountPoint: path }]) => ({
    name,
    path,
    rotate: name === 'shelf-b',
  }));
  let now = from;
  let timers: { at: number; run: () => void }[] = [];
  const clock: Clock = {
    ...{ now: () => now, ticks: () => now - from },
    after(ms, run) {
      const timer = { at: now + ms, run };
      timers.push(timer);
      return () => {
        timers = timers.filter((one) => one !== timer);
      };
    },
  };
  const store = await openStore({ stateDir: join(folder, 'state'), now: clock.now, log: SILENT });
  const port = createShelfPort(ENTRY);
  const looks = new Map<string, ShelfLook>();
  const runs: (Pick<BackupRun, 'volume' | 'shelf' | 'cause' | 'startedAt'> & { tbHours: number })[] = [];
  let exposed = Number.NaN;
  let assessment = sampleAssessment({ volumes: [sampleVolume({ safety: assessExposure([]) })] });
  let [begun, over, ids] = [0, 0, 0];
  let daemon: { flow: BackupFlow; due: DueWatch } | null = null;

  async function assess(): Promise<void> {
    const sums = await store.catalogue.projects(2);
    const safety = assessExposure(sums);
    assessment = sampleAssessment({ at: now, volumes: [sampleVolume({ safety, areas: [...sums] })] });
  }

  function raise() {
    const known = { store: store.backups, clock, assessment: () => assessment };
    const flow: BackupFlow = createBackupFlow({
      ...{
        pairs: shelves.map((shelf) => ({ volume, shelf, hashes: [] })),
        store: store.backups,
        sums: store.cards,
        log: SILENT,
        clock,
      },
      // The engine's own patience is of the real clock.
      ...{
        version: '0.1.0',
        newId: () => `id-${++ids}`,
        copies: createCopyPort({ clock: { ...systemClock, now: () => now } }),
      },
      // A look is a process: one that would see what the last one saw is left out.
      shelves: {
        ...port,
        async mark(path, marker) {
          looks.clear();
          return port.mark(path, marker);
        },
        async look(path, source) {
          const look = looks.get(path) ?? (await port.look(path, source));
          looks.set(path, look);
          return look;
        },
      },
      ...{ pace: () => ({ paused: false, ceilingBps: null }), changed: () => {}, outlooks: () => due.outlooks() },
      shelfChanged: () => void due.again(),
      async ended(run) {
        looks.clear();
        await assess();
        await watched.ended(run);
        await due.ended(run);
        over++;
      },
    });
    const watched = createShelfWatch({ ...known, shelves: () => flow.view().shelves, runs: () => flow.view().runs });
    const coming = createVolumeWatch(known);
    const volumes: VolumeWatch = {
      async look(name) {
        const seen = await coming.look(name);
        exposed = seen.exposed === null ? Number.NaN : tbHours(seen.exposed);
        return seen;
      },
    };
    const due: DueWatch = createDueWatch({
      ...{ ...known, zone, volumes, shelves: watched.look, changed: () => {} },
      plans: [{ volume: 'stripe', shelves: shelves.map(({ name }) => name), nightly, windowSeconds: 6 * 3600 }],
      timer: { start: () => () => {} },
      begin(order) {
        begun++;
        looks.clear();
        flow.now({ ...order, adopt: false });
        runs.push({ ...order, startedAt: now, tbHours: exposed });
      },
      failed: (error) => {
        throw error;
      },
    });
    return { flow, due };
  }

  /** Until nothing goes on any more. */
  async function settled(): Promise<void> {
    // Twice: what the last step found out is asked about once more.
    for (let quiet = 0; quiet < 2; ) {
      await daemon?.due.again();
      // Shelves are looked at with every step.
      const isLooked = daemon?.flow.view().shelves.every(({ lookedAt }) => lookedAt === now) ?? true;
      quiet = over === begun && isLooked ? quiet + 1 : 0;
      if (quiet === 0) await new Promise((resolve) => setTimeout(resolve, 2));
    }
  }

  return {
    runs,
    onShelf: (name: string) => drives[name]?.mountPoint ?? '',
    view: () => daemon?.flow.view(),
    now: () => now,
    async start() {
      await assess();
      daemon = raise();
      await daemon.flow.start();
      await daemon.due.start();
      await settled();
    },
    /** Without a word, as after SIGKILL. */
    kill() {
      timers = [];
      daemon?.due.stop();
      daemon = null;
    },
    /** The clock goes on; what was due meanwhile comes late, and at once. */
    async to(at: number) {
      now = at;
      const due = timers.filter((timer) => timer.at <= at).sort((one, other) => one.at - other.at);
      timers = timers.filter((timer) => timer.at > at);
      for (const { run } of due) run();
      if (daemon !== null) await settled();
    },
    /** A recording arrives, and is known at once. */
    async shoot(path: string, bytes: number) {
      const at = join(volume.path, path);
      mkdirSync(dirname(at), { recursive: true });
      writeFileSync(at, Buffer.alloc(bytes, path));
      utimesSync(at, now / 1000, now / 1000);
      const { size, mtimeNs, ctimeNs, ino, dev } = statSync(at, { bigint: true });
      const clip = { project: path.split('/')[0] ?? null, size: Number(size), mtimeNs, ctimeNs, ino, dev };
      await store.catalogue.putFiles([someFile(path, clip)]);
      await assess();
    },
    carry(name: string, where: 'away' | 'home') {
      looks.clear();
      if (where === 'away') drives[name]?.unmount();
      else drives[name]?.mount();
    },
    async clear() {
      daemon?.due.stop();
      await daemon?.flow.stop();
      await store.close();
      for (const drive of Object.values(drives)) drive.remove();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
