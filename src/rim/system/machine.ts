import type { PathLike } from 'node:fs';
import { join } from 'node:path';
import type { MachinePort } from '../../core/machine-port.ts';

/** The part of `node:fs` that this takes. */
export interface MachineFs {
  readFileSync(path: string, encoding: 'utf8'): string;
  promises: {
    statfs(path: PathLike): Promise<{ bsize: number; bavail: number }>;
    readdir(path: PathLike): Promise<string[]>;
    lstat(path: PathLike): Promise<{ isFile(): boolean; blocks: number }>;
  };
}

/** proc_uptime(5): seconds since the start, including time spent in suspend. */
const UPTIME = '/proc/uptime';
const BLOCK = 512;

/** This machine, and the drive that `stateDir` lies on. */
export function machinePort(fs: MachineFs, stateDir: string): MachinePort {
  async function bytesOf(name: string): Promise<number> {
    // A working file may be gone since its folder was read.
    const found = await fs.promises.lstat(join(stateDir, name)).catch(() => null);
    return found?.isFile() === true ? found.blocks * BLOCK : 0;
  }

  return {
    uptime() {
      try {
        const seconds = Number.parseFloat(fs.readFileSync(UPTIME, 'utf8'));
        return Number.isFinite(seconds) ? seconds : null;
      } catch {
        return null;
      }
    },
    async stateRoom() {
      try {
        const { bsize, bavail } = await fs.promises.statfs(stateDir);
        const sizes = await Promise.all((await fs.promises.readdir(stateDir)).map(bytesOf));
        return { path: stateDir, availableBytes: bsize * bavail, ownBytes: sizes.reduce((sum, one) => sum + one, 0) };
      } catch {
        return null;
      }
    },
  };
}
