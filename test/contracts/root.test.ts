import { spawn } from 'node:child_process';
import { closeSync, mkdirSync, openSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { ManifestOutcome } from '../../src/core/root-port.ts';
import { remoteRoot } from '../../src/rim/watch/remote-root.ts';
import { fakeRoot } from '../fakes/root.ts';
import { clock, ENTRY, silent, temporaryFolder } from '../rim/watch/watched.ts';
import { type RootSubject, rootContract } from './root.contract.ts';

async function real(): Promise<RootSubject> {
  const place = temporaryFolder();
  const folder = join(place, 'stripe');
  mkdirSync(folder);
  const settings = { sweepEvery: 10, fullSweepEvery: 900 };
  return {
    root: remoteRoot({ root: folder, settings, entry: ENTRY, clock, log: silent }),
    write(path, bytes) {
      mkdirSync(dirname(join(folder, path)), { recursive: true });
      writeFileSync(join(folder, path), 'x'.repeat(bytes));
    },
    remove: (path) => rmSync(join(folder, path), { recursive: true }),
    holdOpen(path) {
      const fd = openSync(join(folder, path), 'a');
      const holder = spawn('sleep', ['60'], { stdio: ['ignore', fd, 'ignore'] });
      closeSync(fd);
      return async () => {
        const ended = new Promise((resolve) => holder.once('exit', resolve));
        holder.kill();
        await ended;
      };
    },
    unplug: () => renameSync(folder, join(place, 'away')),
    plug: () => renameSync(join(place, 'away'), folder),
    end: async () => rmSync(place, { recursive: true, force: true }),
  };
}

async function fake(): Promise<RootSubject> {
  const root = fakeRoot();
  const manifest: ManifestOutcome = {
    ok: true,
    base: 'Saltmarsh',
    files: [{ path: 'a.mov', size: 5, mtimeMs: null }],
    gap: null,
  };
  const content = (bytes: number) => ({ size: bytes, wholeness: bytes === 0 ? 'empty' : 'whole', manifest }) as const;
  const sizes = new Map<string, number>();
  return {
    root,
    write(path, bytes) {
      sizes.set(path, bytes);
      root.put(path, content(bytes));
    },
    remove: root.remove,
    holdOpen(path) {
      root.put(path, { ...content(sizes.get(path) ?? 0), writers: 'open' });
      return async () => root.put(path, content(sizes.get(path) ?? 0));
    },
    unplug: () => root.setState('absent', 'the folder does not exist'),
    plug: () => root.setState('live'),
    end: async () => {},
  };
}

for (const [name, make] of [['watch', real] as const, ['fake', fake] as const]) rootContract(name, make);
