import type { ArrayNode, StackLevel } from '../../core/assess/storage-stack.ts';
import type { RunCommand } from './block-node.ts';

/** What the device mapper tells of one of its devices. */
interface MappedArray extends Pick<ArrayNode, 'level' | 'missing' | 'sync'> {
  /** `null`: not told, each drive is a member. */
  wanted: number | null;
}

const LEVELS: Readonly<Record<string, StackLevel>> = {
  raid0: '0',
  raid1: '1',
  raid4: '4',
  raid5: '5',
  raid6: '6',
  raid10: '10',
};

/**
 * dmsetup(8), `table`: `0 4194304 striped 4 128 ...`, `... raid raid5_ls ...`, one line for each stretch; and of `raid`, `status`:
 * `0 1960893648 raid raid4 5 AAAAA 2/490221568 init 0` with one letter for each member, `A` in step, `a` not in step, `D` dead
 * (Documentation/admin-guide/device-mapper/dm-raid.rst).
 */
export async function readTable(run: RunCommand, name: string): Promise<MappedArray> {
  const table = (await run('dmsetup', ['table', name])) ?? '';
  const kinds = table.split('\n').map((line) => /^\d+ \d+ (\S+)(?: (raid\d+))?/.exec(line.trim()));
  const [, kind, raid = ''] = kinds.find((match) => match !== null) ?? [];
  const plain = { wanted: null, missing: 0, sync: null };
  if (kind === 'raid') return { level: LEVELS[raid] ?? null, ...raidState(await run('dmsetup', ['status', name])) };
  return { level: kind === 'striped' ? '0' : kind === 'linear' ? 'linear' : null, ...plain };
}

function raidState(status: string | null): Omit<MappedArray, 'level'> {
  const [, letters = '', done, all, action = 'idle'] =
    / raid \S+ \d+ ([AaD-]+) (\d+)\/(\d+) (\S+)/.exec(status ?? '') ?? [];
  const missing = letters.replaceAll(/[Aa]/g, '').length;
  const isRighting = ['resync', 'recover', 'reshape'].includes(action);
  const share = Number(all) > 0 ? Number(done) / Number(all) : null;
  return {
    wanted: letters === '' ? null : letters.length,
    missing,
    sync: isRighting ? { action, done: share } : null,
  };
}
