import { mkdirSync, mkdtempSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { BackupRun } from '../../../src/core/backup/backup-run.ts';
import type { Pace } from '../../../src/core/backup/copy-port.ts';
import type { HashFormat } from '../../../src/core/backup/mhl-model.ts';
import type { FileRecord, Kind } from '../../../src/core/model.ts';
import { runBackup } from '../../../src/daemon/backup/backup-run.ts';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { createShelfPort } from '../../../src/rim/shelf/shelf-port.ts';
import { openStore } from '../../../src/rim/store/store.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { someFile } from '../../contracts/catalogue.material.ts';
import { type ShelfVolume, shelfVolume } from '../../rim/backup/shelves.ts';

const SAVED_SECONDS = 600;
const SILENT = { debug() {}, info() {}, warn() {}, error() {} };
const ENTRY = fileURLToPath(new URL('../../../src/daemon/compose-shelf.ts', import.meta.url));

interface RunOver {
  adopt?: boolean;
  signal?: AbortSignal;
  changed?: (run: BackupRun) => void;
  path?: string;
  cause?: BackupRun['cause'];
  onlyRank?: number;
  hashes?: HashFormat[];
}

/** A working volume in a folder, a shelf on a drive of its own, a real store and the real processes. */
export async function realShelf(mebibytes = 64) {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-backup-'));
  const volume = { name: 'stripe', path: join(folder, 'stripe') };
  mkdirSync(volume.path);
  const shelfDrive: ShelfVolume = shelfVolume('ext4', mebibytes);
  shelfDrive.mount();
  const shelf = { name: 'shelf-a', path: shelfDrive.mountPoint };
  const store = await openStore({ stateDir: join(folder, 'state'), now: () => Date.now(), log: SILENT });
  let ids = 0;
  let skipped = 0;
  const clock = { ...systemClock, now: () => systemClock.now() + skipped };
  let pace: Pace = { paused: false, ceilingBps: null };
  const deps = {
    ...{ store: store.backups, sums: store.cards, copies: createCopyPort({ clock }), shelves: createShelfPort(ENTRY) },
    ...{ clock, newId: () => `id-${++ids}`, version: '0.1.0', pace: () => pace },
  };
  /** Puts a file that is there into the catalogue. */
  async function know(path: string, kind: Kind): Promise<void> {
    const found = statSync(join(volume.path, path), { bigint: true });
    const record: FileRecord = someFile(path, {
      ...{ project: path.split('/')[0] ?? null, kind, size: Number(found.size), mtimeNs: found.mtimeNs },
      ...{ ctimeNs: found.ctimeNs, ino: found.ino, dev: found.dev },
    });
    await store.catalogue.putFiles([record]);
  }
  return {
    ...{ folder, volume, shelf, shelfDrive, store, deps },
    setPace(to: Pace) {
      pace = to;
    },
    know,
    /** The wall clock goes on by this. */
    skip(ms: number) {
      skipped += ms;
    },
    /** Writes a file, and puts it into the catalogue as it is. */
    put(path: string, content: string | Buffer, kind: Kind = 'original') {
      const at = join(volume.path, path);
      mkdirSync(dirname(at), { recursive: true });
      writeFileSync(at, content);
      // A project file that was just written may be in the middle of a save.
      utimesSync(at, Date.now() / 1000, Date.now() / 1000 - SAVED_SECONDS);
      return know(path, kind);
    },
    run(over: RunOver = {}) {
      const { adopt = false, signal = new AbortController().signal, changed = () => {}, path = shelf.path } = over;
      const { cause = 'command', onlyRank, hashes = [] } = over;
      const part = onlyRank === undefined ? {} : { onlyRank };
      return runBackup(deps, { volume, shelf: { ...shelf, path }, cause, adopt, hashes, ...part }, signal, changed);
    },
    exposedBytes: async () =>
      (await store.catalogue.projects(1)).reduce((sum, { exposed }) => sum + (exposed?.bytes ?? Number.NaN), 0),
    async clear() {
      await store.close();
      shelfDrive.remove();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
