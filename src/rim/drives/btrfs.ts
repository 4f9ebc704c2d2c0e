import { posix } from 'node:path';
import type { ArrayNode, StackLevel, StorageNode } from '../../core/assess/storage-stack.ts';
import { type Gathering, readNode } from './block-node.ts';
import { behind, names, number, type SysFs, text } from './sys.ts';

const ROOT = '/sys/fs/btrfs';

/**
 * Profiles of data. Two copies of everything over more than two drives are put as pairs are: `10`. `single` and `dup` fill one drive
 * after the other.
 */
function levelOf(profile: string, members: number): StackLevel | null {
  switch (profile) {
    case 'raid0':
      return '0';
    case 'raid1':
      return members > 2 ? '10' : '1';
    case 'raid10':
      return '10';
    case 'raid5':
      return '5';
    case 'raid6':
      return '6';
    case 'raid1c3':
    case 'raid1c4':
      return '1';
    default:
      return members > 1 ? 'linear' : null;
  }
}

/** Documentation/ABI/testing/sysfs-fs-btrfs: devices, allocation/data/<profile>, devinfo/<id>/missing and error_stats. */
export async function readBtrfs(gathering: Gathering, source: string): Promise<StorageNode | null> {
  const { fs, notSeen } = gathering;
  const own = posix.basename(behind(fs, source));
  const uuid = names(fs, ROOT).find((name) => names(fs, `${ROOT}/${name}/devices`).includes(own));
  if (uuid === undefined) {
    notSeen.push('which drives this btrfs has (it is not in /sys/fs/btrfs)');
    return null;
  }
  const folder = `${ROOT}/${uuid}`;
  const members: StorageNode[] = [];
  for (const name of names(fs, `${folder}/devices`)) {
    const member = await readNode(gathering, name);
    if (member !== null) members.push(member);
  }
  noteErrors(gathering, folder);
  const ids = names(fs, `${folder}/devinfo`);
  const missing = ids.filter((id) => number(fs, `${folder}/devinfo/${id}/missing`) === 1).length;
  const [only, ...more] = members;
  if (only !== undefined && more.length === 0 && missing === 0) return only;
  const profiles = profilesOf(fs, folder, 'data');
  if (profiles.length > 1) notSeen.push(`one layout: its data are in part ${profiles.join(', in part ')}`);
  const level = levelOf(profiles[0] ?? '', members.length + missing);
  noteRecords(gathering, folder, level);
  return {
    kind: 'array',
    by: 'btrfs',
    level,
    members,
    wanted: members.length + missing,
    missing,
    sync: null,
  } satisfies ArrayNode;
}

/** Those that hold something, the largest first. */
function profilesOf(fs: SysFs, folder: string, kind: 'data' | 'metadata'): string[] {
  const data = `${folder}/allocation/${kind}`;
  const sized = names(fs, data).map((name) => ({ name, bytes: number(fs, `${data}/${name}/total_bytes`) ?? 0 }));
  return sized
    .filter(({ bytes }) => bytes > 0)
    .sort((one, other) => other.bytes - one.bytes)
    .map(({ name }) => name);
}

/** Profiles that lose what they hold with any one of several drives. */
const OF_ONE_DRIVE = new Set(['single', 'dup', 'raid0']);

/** Data outlive a drive only where the records of the file system do. */
function noteRecords({ fs, notSeen }: Gathering, folder: string, level: StackLevel | null): void {
  if (level === null || level === '0' || level === 'linear') return;
  const records = profilesOf(fs, folder, 'metadata').filter((profile) => OF_ONE_DRIVE.has(profile));
  if (records.length > 0) {
    notSeen.push(`that it outlives a drive: the file system keeps its own records as ${records.join(' and ')}`);
  }
}

/** `write_errs 0`, one kind on a line. */
function noteErrors({ fs, errors }: Gathering, folder: string): void {
  for (const id of names(fs, `${folder}/devinfo`)) {
    const told = text(fs, `${folder}/devinfo/${id}/error_stats`) ?? '';
    const sum = [...told.matchAll(/ (\d+)$/gm)].reduce((total, [, count]) => total + Number(count), 0);
    if (sum > 0) errors.push({ name: `device ${id}`, by: 'btrfs', errors: sum });
  }
}
