/** The part of `node:fs` that reading the mount table takes; tests hand in another one. */
export interface MountFs {
  readFileSync(path: string, encoding: 'utf8'): string;
}

/** One line of /proc/self/mountinfo, proc_pid_mountinfo(5). */
export interface Mount {
  /** Unique while mounted; another mount at the same place has another one. */
  id: number;
  mountPoint: string;
  /** `major:minor` of the file system's device, as st_dev names it. */
  device: string;
  fileSystem: string;
  /** What was mounted: a device, `host:/export`, `//host/share`, or a name the file system gave itself. */
  source: string;
  /** Options of the mount and of the file system, together. */
  options: string[];
  /** Others than local processes may write it, unseen by us: network, FUSE and shared-with-host file systems. */
  remote: boolean;
  readOnly: boolean;
  /** It is read-only for us, and what others see is not known: a service may be shown all that is mounted so. */
  viewOnly?: true;
}

const MOUNT_TABLE = '/proc/self/mountinfo';

const REMOTE = new Set([
  'nfs',
  'nfs4',
  'cifs',
  'smb3',
  'smbfs',
  'ncpfs',
  'afs',
  'coda',
  'ceph',
  'glusterfs',
  'lustre',
  'ocfs2',
  'gfs2',
  'orangefs',
  '9p',
  'virtiofs',
  'vboxsf',
  'vmhgfs',
  'prl_fs',
  'fuse',
]);

/** `emergency_ro`: ext4 of newer kernels after an error, whose `rw` stays (from memory). */
const READ_ONLY = new Set(['ro', 'emergency_ro']);

/**
 * Whether writers may be invisible. `fuseblk` is FUSE on a local block device (NTFS and exFAT drives): every writer is a
 * local process with an open file, so it counts as local; every other FUSE file system may have a far end.
 */
export function isRemote(fileSystem: string): boolean {
  return REMOTE.has(fileSystem) || fileSystem.startsWith('fuse.');
}

/** The mount table as text. Throws what reading throws. */
export function readMountTable(fs: MountFs, table = MOUNT_TABLE): string {
  return fs.readFileSync(table, 'utf8');
}

/** All mounts of a table, in the order in which they were made; lines that are no mounts are left out. */
export function parseMounts(table: string): Mount[] {
  const parsed = table
    .split('\n')
    .map(parseMount)
    .filter((line) => line !== null);
  // systemd.exec(5), ProtectSystem=strict: all mounts are made read-only for a service, from the root on; file systems stay.
  const isShownSo = parsed.some(({ mount, isOurs }) => mount.mountPoint === '/' && isOurs);
  return parsed.map(({ mount, isOurs }) => (isShownSo && isOurs ? { ...mount, viewOnly: true } : mount));
}

/** Reads and parses the table. Throws what reading throws. */
export function readMounts(fs: MountFs, table = MOUNT_TABLE): Mount[] {
  return parseMounts(readMountTable(fs, table));
}

/**
 * The mount an absolute, resolved path lies on: the longest mount point above it and, of several at the same place, the
 * one mounted last. `null` only for an empty table.
 */
export function findMount(mounts: readonly Mount[], path: string): Mount | null {
  let best: Mount | null = null;
  for (const mount of mounts) {
    const longest = best === null || mount.mountPoint.length >= best.mountPoint.length;
    if (longest && contains(mount.mountPoint, path)) best = mount;
  }
  return best;
}

/** Reads the table and finds the mount of a path; `null` when the table cannot be read. */
export function mountOf(fs: MountFs, path: string): Mount | null {
  return mountFinder(fs)(path);
}

/** The same for who asks about one path again and again: as long as the table reads the same, so is the answer. */
export function mountFinder(fs: MountFs): (path: string) => Mount | null {
  let last: { table: string; path: string; mount: Mount | null } | null = null;
  return (path) => {
    try {
      const table = readMountTable(fs);
      if (last?.table !== table || last.path !== path) {
        last = { table, path, mount: findMount(parseMounts(table), path) };
      }
      return last.mount;
    } catch {
      return null;
    }
  };
}

function contains(mountPoint: string, path: string): boolean {
  return mountPoint === '/' || path === mountPoint || path.startsWith(`${mountPoint}/`);
}

/** `36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue`; the fields before the dash vary. */
function parseMount(line: string): { mount: Mount; isOurs: boolean } | null {
  const fields = line.split(' ');
  const dash = fields.indexOf('-', 6);
  const [id, , device, , mountPoint, own] = fields;
  const [fileSystem, source, shared] = dash < 0 ? [] : fields.slice(dash + 1);
  if (device === undefined || mountPoint === undefined || own === undefined || fileSystem === undefined) return null;
  const options = [...new Set([...own.split(','), ...(shared ?? '').split(',')])].filter((option) => option !== '');
  const readOnly = options.some((option) => READ_ONLY.has(option));
  const mount = {
    id: Number(id),
    mountPoint: unescapeOctal(mountPoint),
    device,
    fileSystem,
    source: unescapeOctal(source ?? ''),
    options,
    remote: isRemote(fileSystem),
    readOnly,
  };
  // The mount alone is so, and not the file system.
  return { mount, isOurs: readOnly && !(shared ?? '').split(',').some((option) => READ_ONLY.has(option)) };
}

/** Space, tab, newline and backslash are written as three octal digits. */
function unescapeOctal(text: string): string {
  return text.replace(/\\([0-7]{3})/g, (_, digits: string) => String.fromCharCode(Number.parseInt(digits, 8)));
}
