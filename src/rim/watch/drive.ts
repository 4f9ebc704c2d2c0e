import { deviceLink, type LinksFs } from '../base/device-links.ts';
import { stampsOf } from './stamps.ts';

/** What tells a mounted file system from others; `null` where it is not told. */
export interface DriveIdentity {
  /** Given to it when it was formatted. */
  uuid: string | null;
  /** Inode and time of birth (ns) of its topmost folder: made when it was formatted. */
  born: string | null;
  /** Server and path of a network mount. */
  source: string | null;
}

/** Where a root was found to lie, as it is kept over restarts. */
export interface KnownMount {
  mountPoint: string | null;
  drive: DriveIdentity | null;
}

/** The part of `node:fs` that this takes. */
export type DriveFs = LinksFs & Pick<typeof import('node:fs'), 'statSync'>;

interface DriveMount {
  mountPoint: string;
  fileSystem: string;
  source: string;
  remote: boolean;
}

/**
 * Who a mounted file system is. `null`: nothing tells it. That is so of what the system itself lies on, of memory, and
 * of FUSE with a far end, which calls itself what it likes.
 */
export function identifyDrive(fs: DriveFs, mount: DriveMount): DriveIdentity | null {
  const { mountPoint, fileSystem, source, remote } = mount;
  if (mountPoint === '/') return null;
  if (remote) return isFuse(fileSystem) || source === '' ? null : { uuid: null, born: null, source };
  if (!source.startsWith('/dev/') && fileSystem !== 'zfs') return null;
  const uuid = deviceLink(fs, 'by-uuid', source);
  const born = stampsOf(fileSystem).inodes ? birthOf(fs, mountPoint) : null;
  return uuid === null && born === null ? null : { uuid, born, source: null };
}

/** Whether two looks were at different drives: by the first sign that both of them have. */
export function areDifferent(a: DriveIdentity | null, b: DriveIdentity | null): boolean {
  const sign = firstShared(a, b);
  return sign !== null && a?.[sign] !== b?.[sign];
}

/** What is known of one drive after two looks, of which each may have told something else. */
export function knownTogether(before: DriveIdentity | null, now: DriveIdentity | null): DriveIdentity | null {
  if (before === null || now === null) return now ?? before;
  return {
    uuid: now.uuid ?? before.uuid,
    born: now.born ?? before.born,
    source: now.source ?? before.source,
  };
}

/** What is wrong, in words, and what to do about it. */
export function anotherDrive(expected: DriveIdentity | null, found: DriveIdentity | null): string {
  const sign = firstShared(expected, found) ?? 'uuid';
  return (
    `another drive is mounted there (expected ${inWords(expected, sign)}, found ${inWords(found, sign)}): mount the right ` +
    'one; or, if it replaces the earlier one, give the volume a new name in the configuration (without a configuration: ' +
    'start with another --state folder)'
  );
}

/** As text, to be kept. */
export function encodeKnownMount(known: KnownMount): string {
  return JSON.stringify(known);
}

/** Reads what was kept. Earlier only the mount point was, as it is: an absolute path. */
export function decodeKnownMount(text: string | null): KnownMount {
  if (text?.startsWith('{') !== true) return { mountPoint: text, drive: null };
  return JSON.parse(text) as KnownMount;
}

const SIGNS = ['uuid', 'source', 'born'] as const;

function firstShared(a: DriveIdentity | null, b: DriveIdentity | null): keyof DriveIdentity | null {
  if (a === null || b === null) return null;
  return SIGNS.find((sign) => a[sign] !== null && b[sign] !== null) ?? null;
}

function isFuse(fileSystem: string): boolean {
  return fileSystem === 'fuse' || fileSystem.startsWith('fuse.');
}

function birthOf(fs: DriveFs, mountPoint: string): string | null {
  try {
    const { ino, birthtimeNs } = fs.statSync(mountPoint, { bigint: true });
    return birthtimeNs === 0n ? null : `${ino}@${birthtimeNs}`;
  } catch {
    // It has just gone, which the next look finds.
    return null;
  }
}

function inWords(drive: DriveIdentity | null, sign: keyof DriveIdentity): string {
  const told = drive?.[sign] ?? 'unknown';
  if (sign === 'source') return told;
  if (sign === 'uuid') return `the one with UUID ${told}`;
  const bornMs = Number(BigInt(told.slice(told.indexOf('@') + 1)) / 1_000_000n);
  return `the one formatted at ${new Date(bornMs).toISOString()}`;
}
