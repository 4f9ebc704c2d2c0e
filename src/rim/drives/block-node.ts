import { posix } from 'node:path';
import type { ArrayNode, DriveHeat, MemberErrors, StackLevel, StorageNode } from '../../core/assess/storage-stack.ts';
import { deviceFolder, readDrive, readHeat } from './drive.ts';
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
  return { kind: 'array', by: 'md', level, members, missing: level === '0' ? 0 : missing, sync: syncOf(fs, folder) };
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
  const members = await membersOf(gathering, folder);
  const [only, ...more] = members;
  if (only === undefined || more.length === 0) return only ?? null;
  const name = text(fs, `${folder}/dm/name`) ?? '';
  const table = await run('dmsetup', ['table', name]);
  const level = table === null ? null : levelOfTable(table);
  if (level === null)
    notSeen.push(`how ${name} is spread over its ${members.length} drives (dmsetup tells that to root alone)`);
  return { kind: 'array', by: 'lvm', level, members, missing: 0, sync: null };
}

/** dmsetup(8): `0 4194304 striped 4 128 ...`, `... raid raid5_ls ...`, one line for each stretch. */
function levelOfTable(table: string): StackLevel | null {
  const targets = table.split('\n').map((line) => /^\d+ \d+ (\S+)(?: (raid\d+))?/.exec(line.trim()));
  const [first] = targets.flatMap((target) => (target === null ? [] : [target]));
  if (first?.[1] === 'striped') return '0';
  if (first?.[1] === 'linear') return 'linear';
  return first?.[1] === 'raid' ? (MD_LEVELS[first[2] ?? ''] ?? null) : null;
}
