import { posix } from 'node:path';
import type { ArrayNode, DriveHeat, MemberErrors, StackLevel, StorageNode } from '../../core/assess/storage-stack.ts';
import { deviceFolder, readDrive, readHeat } from './drive.ts';
import { readTable } from './mapped.ts';
import { names, number, type SysFs, text } from './sys.ts';

/** Runs a command of the system; its output, or `null` where it is not there, refuses, or takes too long. */
export type RunCommand = (command: string, args: readonly string[]) => Promise<string | null>;

/** What is gathered on the way down. */
export interface Gathering {
  fs: SysFs;
  run: RunCommand;
  errors: MemberErrors[];
  heat: DriveHeat[];
  notSeen: string[];
}

/** A device by `major:minor` or kernel name, with what is below it. */
export async function readNode(gathering: Gathering, device: string): Promise<StorageNode | null> {
  const { fs } = gathering;
  const folder = deviceFolder(fs, device);
  if (folder === null) return null;
  if (text(fs, `${folder}/partition`) !== null) return readNode(gathering, posix.basename(posix.dirname(folder)));
  if (text(fs, `${folder}/md/level`) !== null) return readMd(gathering, folder);
  if (text(fs, `${folder}/dm/name`) !== null) return readMapped(gathering, folder);
  const drive = readDrive(fs, folder);
  const ioErrors = number(fs, `${folder}/device/ioerr_cnt`);
  if (ioErrors !== null) gathering.errors.push({ name: drive.name, by: 'kernel', errors: ioErrors });
  gathering.heat.push(...readHeat(fs, folder));
  return { kind: 'drive', drive };
}

const MD_LEVELS: Readonly<Record<string, StackLevel>> = {
  raid0: '0',
  raid1: '1',
  raid4: '4',
  raid5: '5',
  raid6: '6',
  raid10: '10',
  linear: 'linear',
};

/** What puts an array right; `check` and `repair` merely look through it (Documentation/admin-guide/md.rst, sync_action). */
const RIGHTING = new Set(['resync', 'recover', 'reshape']);

/** Documentation/admin-guide/md.rst: md/level, raid_disks, degraded, sync_action, sync_completed, dev-XXX/state and errors. */
async function readMd(gathering: Gathering, folder: string): Promise<ArrayNode> {
  const { fs, errors } = gathering;
  const members = await membersOf(gathering, folder);
  const wanted = number(fs, `${folder}/md/raid_disks`) ?? members.length;
  for (const entry of names(fs, `${folder}/md`).filter((name) => name.startsWith('dev-'))) {
    const counted = number(fs, `${folder}/md/${entry}/errors`);
    if (counted !== null && counted > 0) errors.push({ name: entry.slice(4), by: 'md', errors: counted });
  }
  const faulty = names(fs, `${folder}/md`).filter((name) =>
    /faulty/.test(text(fs, `${folder}/md/${name}/state`) ?? ''),
  );
  const missing = Math.max(number(fs, `${folder}/md/degraded`) ?? 0, wanted - members.length, faulty.length);
  const level = MD_LEVELS[text(fs, `${folder}/md/level`) ?? ''] ?? null;
  const known = { level, members, wanted, missing: level === '0' ? 0 : missing };
  return { kind: 'array', by: 'md', ...known, sync: syncOf(fs, folder) };
}

function syncOf(fs: SysFs, folder: string): ArrayNode['sync'] {
  const action = text(fs, `${folder}/md/sync_action`);
  if (action === null || !RIGHTING.has(action)) return null;
  const [, done, all] = /^(\d+) \/ (\d+)$/.exec(text(fs, `${folder}/md/sync_completed`) ?? '') ?? [];
  return { action, done: done === undefined || all === undefined || all === '0' ? null : Number(done) / Number(all) };
}

/** Members of a device, by the links that the kernel keeps of them. */
async function membersOf(gathering: Gathering, folder: string): Promise<StorageNode[]> {
  const members: StorageNode[] = [];
  for (const name of names(gathering.fs, `${folder}/slaves`)) {
    const member = await readNode(gathering, name);
    if (member !== null) members.push(member);
  }
  return members;
}

/** A device of the device mapper: encryption and what lies on one drive are looked through. */
async function readMapped(gathering: Gathering, folder: string): Promise<StorageNode | null> {
  const { fs, run, notSeen } = gathering;
  const members = distinct(await membersOf(gathering, folder));
  // By what it is made of, not by what could be read of that: of a mirror one half may be dead.
  if (names(fs, `${folder}/slaves`).length < 2) return members[0] ?? null;
  const name = text(fs, `${folder}/dm/name`) ?? '';
  const told = await readTable(run, name);
  if (told.level === null && members.length > 1)
    notSeen.push(`how ${name} is spread over its ${members.length} drives (dmsetup tells that to root alone)`);
  return { kind: 'array', by: 'lvm', ...told, members, wanted: told.wanted ?? members.length };
}

/** Data and records of an LVM array lie beside each other on every drive: one member for each drive. */
function distinct(members: readonly StorageNode[]): StorageNode[] {
  return [...new Map(members.map((member) => [JSON.stringify(member), member])).values()];
}
