import type { StorageNode, StorageStack } from '../../core/assess/storage-stack.ts';
import { type Gathering, type RunCommand, readNode } from './block-node.ts';
import { readBtrfs } from './btrfs.ts';
import type { SysFs } from './sys.ts';
import { readZpool } from './zpool.ts';

/** Where the volume lies: a line of the mount table. */
export interface StackMount {
  device: string;
  fileSystem: string;
  source: string;
  remote: boolean;
}

/** Reads what a mounted file system lies on, from /sys, /proc and, where they are, commands of the system. Never rejects. */
export async function readStack(fs: SysFs, run: RunCommand, mount: StackMount): Promise<StorageStack> {
  const gathering: Gathering = { fs, run, errors: [], heat: [], notSeen: [] };
  const root = await rootOf(gathering, mount);
  const { errors, heat, notSeen } = gathering;
  return {
    root,
    errors: once(errors, ({ by, name }) => `${by} ${name}`),
    heat: once(heat, ({ name }) => name),
    notSeen,
  };
}

/** A drive may be met on several ways down. */
function once<One>(all: readonly One[], key: (one: One) => string): One[] {
  return [...new Map(all.map((one) => [key(one), one])).values()];
}

async function rootOf(gathering: Gathering, mount: StackMount): Promise<StorageNode | null> {
  if (mount.remote) {
    gathering.notSeen.push('what a network volume is made of, and what its other users do');
    return null;
  }
  if (mount.fileSystem === 'btrfs') return readBtrfs(gathering, mount.source);
  if (mount.fileSystem === 'zfs') return readZpool(gathering, mount.source.split('/')[0] ?? mount.source);
  return readNode(gathering, mount.device);
}
