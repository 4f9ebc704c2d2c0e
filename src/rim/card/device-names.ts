import { posix } from 'node:path';
import type { CardMount } from './protocol.ts';

/** The part of `node:fs` that finding a device's names takes. */
export type DeviceFs = Pick<typeof import('node:fs'), 'readdirSync' | 'readlinkSync' | 'statfsSync'>;

/** What a file system is called, and what tells it from others. */
export interface DeviceNames {
  label: string | null;
  key: string;
}

/**
 * Label and identity of a mounted file system, from the links that udev keeps in /dev/disk (udev(7)); nothing of the device
 * itself is read. Without links the identity is its name, size and type: cards of the same make may then share it.
 */
export function deviceNames(fs: DeviceFs, mount: CardMount): DeviceNames {
  const label = linkTo(fs, '/dev/disk/by-label', mount.source);
  const uuid = linkTo(fs, '/dev/disk/by-uuid', mount.source);
  if (uuid !== null) return { label, key: `uuid ${uuid}` };
  const name = label ?? posix.basename(mount.mountPoint);
  return { label, key: `name ${name}, ${sizeOf(fs, mount.mountPoint)} bytes, ${mount.fileSystem}` };
}

/** The name of the link in `folder` that leads to `device`; `null` when there is none. */
function linkTo(fs: DeviceFs, folder: string, device: string): string | null {
  try {
    for (const name of fs.readdirSync(folder)) {
      if (posix.resolve(folder, fs.readlinkSync(`${folder}/${name}`)) === device) return decodeName(name);
    }
  } catch {
    // No udev here, or the link went meanwhile.
  }
  return null;
}

/** udev writes bytes that are not safe in a name as `\xNN`. */
function decodeName(name: string): string {
  const bytes = Buffer.from(name, 'utf8').toString('latin1');
  const plain = bytes.replace(/\\x([0-9a-f]{2})/gi, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
  return Buffer.from(plain, 'latin1').toString('utf8');
}

function sizeOf(fs: DeviceFs, path: string): number {
  const { blocks, bsize } = fs.statfsSync(path);
  return blocks * bsize;
}
