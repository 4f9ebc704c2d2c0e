import { posix } from 'node:path';
import type { ArrayNode, StackLevel, StorageNode } from '../../core/assess/storage-stack.ts';
import { type Gathering, readNode } from './block-node.ts';
import { behind, text } from './sys.ts';

/** A line of the pool's tree. */
interface Entry {
  depth: number;
  name: string;
  state: string;
}

const RAIDZ: Readonly<Record<string, StackLevel>> = { raidz: '5', raidz1: '5', raidz2: '6' };
const SHARED_PLACE = /^(replacing|spare)-\d+$/;
/** Groups of several members (zpoolconcepts(7)); any other name is of a drive. */
const GROUP = /^(mirror|raidz\d?|draid\d?)(-|:|$)/;
/** States in which a member is of no use (zpool-status(8)). */
const LOST = new Set(['FAULTED', 'UNAVAIL', 'REMOVED', 'OFFLINE']);

/** Reads a pool from `zpool status -P`; without the command its state alone is told (/proc/spl/kstat/zfs/POOL/state). */
export async function readZpool(gathering: Gathering, pool: string): Promise<StorageNode | null> {
  const told = await gathering.run('zpool', ['status', '-P', pool]);
  if (told === null) {
    const state = text(gathering.fs, `/proc/spl/kstat/zfs/${pool}/state`);
    gathering.notSeen.push(
      `how the pool ${pool} is made${state === null ? '' : ` (it is ${state})`}: zpool gave no answer`,
    );
    const missing = state === 'DEGRADED' ? 1 : 0;
    const unknown = { level: null, members: [], wanted: 0, sync: null };
    return state === null ? null : { kind: 'array', by: 'zfs', ...unknown, missing };
  }
  return nodeOf(gathering, pool, entriesOf(told, pool), told);
}

async function nodeOf(gathering: Gathering, pool: string, entries: Entry[], told: string): Promise<ArrayNode> {
  const groups = entries.filter(({ depth }) => depth === 1);
  const members: StorageNode[] = [];
  for (const { name } of entries.filter((entry) => entry.name.startsWith('/'))) {
    const member = await readNode(gathering, posix.basename(behind(gathering.fs, name)));
    if (member !== null) members.push(member);
  }
  const places = placesOf(entries);
  const level = levelOf(groups.map(({ name }) => name));
  if (level === null)
    gathering.notSeen.push(`one level: the pool ${pool} is made of ${groups.map(({ name }) => name).join(', ')}`);
  const missing = places.filter((drives) => drives.some(({ state }) => LOST.has(state))).length;
  const done = /resilver(?:ed)?.*?([\d.]+)% done/s.exec(told)?.[1];
  const sync = /resilver in progress/.test(told)
    ? { action: 'resilver', done: done === undefined ? null : Number(done) / 100 }
    : null;
  return { kind: 'array', by: 'zfs', level, members, wanted: places.length, missing, sync };
}

/** A drive and the one that takes its place share one place, below a line of their own. One that is gone may have a number for a name. */
function placesOf(entries: readonly Entry[]): Entry[][] {
  const places: Entry[][] = [];
  let sharedDepth = Number.POSITIVE_INFINITY;
  for (const [index, entry] of entries.entries()) {
    if (entry.depth <= sharedDepth) sharedDepth = Number.POSITIVE_INFINITY;
    if (SHARED_PLACE.test(entry.name)) {
      sharedDepth = entry.depth;
      places.push([]);
    } else if ((entries[index + 1]?.depth ?? 0) <= entry.depth) {
      if (sharedDepth < entry.depth) places.at(-1)?.push(entry);
      else places.push([entry]);
    }
  }
  return places;
}

/** Below the pool's own line, two columns for each step; spares, logs and caches are no members. */
function entriesOf(told: string, pool: string): Entry[] {
  const config = told.slice(Math.max(0, told.indexOf('NAME')));
  const entries: Entry[] = [];
  let within = false;
  for (const line of config.split('\n')) {
    const match = /^\t( *)(\S+)(?: +(\S+))?/.exec(line);
    if (match === null) continue;
    const [, indent = '', name = '', state = ''] = match;
    if (indent === '') within = name === pool;
    else if (within) entries.push({ depth: indent.length / 2, name, state });
  }
  return entries;
}

function levelOf(groups: readonly string[]): StackLevel | null {
  const kinds = new Set(groups.map((name) => GROUP.exec(name)?.[1] ?? 'drive'));
  const [kind, ...more] = kinds;
  if (kind === undefined || more.length > 0) return null;
  if (kind === 'drive') return groups.length > 1 ? '0' : null;
  if (kind === 'mirror') return groups.length > 1 ? '10' : '1';
  return groups.length === 1 ? (RAIDZ[kind] ?? null) : null;
}
