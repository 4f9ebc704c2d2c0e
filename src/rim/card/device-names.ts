import { posix } from 'node:path';
import { deviceLink, type LinksFs } from '../base/device-links.ts';
import type { CardMount } from './protocol.ts';

/** The part of `node:fs` that finding a device's names takes. */
export type DeviceFs = LinksFs & Pick<typeof import('node:fs'), 'statfsSync'>;

/** What a file system is called, and what tells it from others. */
export interface DeviceNames {
  label: string | null;
  key: string;
}

/**
 * Label and identity of a mounted file system. Where udev tells none, the identity is its name, size and type: cards of the
 * same make may then share it.
 */
export function deviceNames(fs: DeviceFs, mount: CardMount): DeviceNames {
  const label = deviceLink(fs, 'by-label', mount.source);
  const uuid = deviceLink(fs, 'by-uuid', mount.source);
  if (uuid !== null) return { label, key: `uuid ${uuid}` };
  const name = label ?? posix.basename(mount.mountPoint);
  return { label, key: `name ${name}, ${sizeOf(fs, mount.mountPoint)} bytes, ${mount.fileSystem}` };
}

function sizeOf(fs: DeviceFs, path: string): number {
  const { blocks, bsize } = fs.statfsSync(path);
  return blocks * bsize;
}
