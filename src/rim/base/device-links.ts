import { posix } from 'node:path';

/** The part of `node:fs` that reading the links of udev takes. */
export type LinksFs = Pick<typeof import('node:fs'), 'readdirSync' | 'readlinkSync'>;

/**
 * What udev tells of a mounted file system's device, from the links it keeps in /dev/disk (udev(7)); nothing of the
 * device itself is read. `null`: nothing is told.
 */
export function deviceLink(fs: LinksFs, by: 'by-label' | 'by-uuid', source: string): string | null {
  const folder = `/dev/disk/${by}`;
  const device = behindLink(fs, source);
  try {
    for (const name of fs.readdirSync(folder)) {
      if (posix.resolve(folder, fs.readlinkSync(`${folder}/${name}`)) === device) return decodeName(name);
    }
  } catch {
    // No udev here, or the link went meanwhile.
  }
  return null;
}

/** Logical volumes are mounted by a name that is a link itself: /dev/mapper/x leads to /dev/dm-0. */
function behindLink(fs: LinksFs, source: string): string {
  if (!source.startsWith('/dev/')) return source;
  try {
    return posix.resolve(posix.dirname(source), fs.readlinkSync(source));
  } catch {
    return source;
  }
}

/** udev writes bytes that are not safe in a name as `\xNN`. */
function decodeName(name: string): string {
  const bytes = Buffer.from(name, 'utf8').toString('latin1');
  const plain = bytes.replace(/\\x([0-9a-f]{2})/gi, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
  return Buffer.from(plain, 'latin1').toString('utf8');
}
