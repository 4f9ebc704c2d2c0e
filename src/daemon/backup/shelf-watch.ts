import type { Assessment } from '../../core/assess/assessment.ts';
import type { BackupRun } from '../../core/backup/backup-run.ts';
import type { ShelfState } from '../../core/backup/backup-view.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import { type CopyRate, secondsPerByte, withRun } from '../../core/backup/copy-rate.ts';
import type { ShelfSeen } from '../../core/backup/due.ts';
import type { Clock } from '../../core/ports.ts';

export interface ShelfWatchDeps {
  assessment: () => Assessment;
  store: Pick<BackupStorePort, 'backlogSum' | 'backupNote' | 'putBackupNote'>;
  clock: Pick<Clock, 'now'>;
  shelves: () => readonly ShelfState[];
  runs: () => readonly BackupRun[];
}

/** What shelves lack of a volume, and how fast copying to them goes. */
export interface ShelfWatch {
  /** `null`: they were not all looked at yet. */
  look(volume: string, names: readonly string[]): Promise<(ShelfSeen & { secondsPerByte: number | null })[] | null>;
  /** How fast a run that is over went. */
  ended(run: BackupRun): Promise<void>;
}

/** What is counted holds so long while nothing is seen to change: a file that is saved over with as many bytes is not. */
const COUNT_MS = 30 * 60_000;
/** And so long while something does, as long as a shelf lacks something: counting reads all files (200,000 take about half a second). */
const CHANGED_MS = 5 * 60_000;

export function createShelfWatch({ assessment, store, clock, shelves, runs }: ShelfWatchDeps): ShelfWatch {
  const counted = new Map<string, { at: number; sums: string; bytes: number }>();
  const hadAll = new Map<string, number>();
  const pairKey = (volume: string, shelf: string) => JSON.stringify([volume, shelf]);
  const rateKey = (volume: string, shelf: string) => `rate ${pairKey(volume, shelf)}`;

  /** What shows that files came, went, or got copies. */
  function sumsOf(volume: string): string {
    const { projects, volumes } = assessment();
    const mine = projects.filter(({ sum }) => sum.volume === volume).map(({ sum }) => [sum.bytes, sum.exposed]);
    const areas = volumes.find(({ name }) => name === volume)?.areas.map(({ bytes, exposed }) => [bytes, exposed]);
    return JSON.stringify([mine, areas]);
  }

  /** Reads all files of the volume: not more often than it must. */
  async function lacks(volume: string, shelf: ShelfState): Promise<number> {
    const key = pairKey(volume, shelf.name);
    const [now, sums] = [clock.now(), sumsOf(volume)];
    const last = counted.get(key);
    const holds = last !== undefined && now >= last.at && now - last.at < holdsFor(last, sums);
    if (holds && last.bytes === 0) hadAll.set(key, now);
    if (holds) return last.bytes;
    // One that was never used lacks all.
    const { bytes } = await store.backlogSum(volume, shelf.known?.id ?? '');
    counted.set(key, { at: now, sums, bytes });
    if (bytes === 0) hadAll.set(key, now);
    return bytes;
  }

  async function rate(volume: string, shelf: string): Promise<CopyRate | null> {
    const text = await store.backupNote(rateKey(volume, shelf));
    return text === null ? null : (JSON.parse(text) as CopyRate);
  }

  /** With what the run that goes on tells so far. */
  async function rateNow(volume: string, shelf: string): Promise<CopyRate | null> {
    const run = runs().find((one) => one.volume === volume && one.shelf === shelf && one.endedAt === null);
    const kept = await rate(volume, shelf);
    return run === undefined ? kept : withRun(kept, rateOf(run));
  }

  return {
    async look(volume, names) {
      const mine = shelves().filter(({ name }) => names.includes(name));
      if (mine.some(({ state }) => state === null)) return null;
      const found: NonNullable<Awaited<ReturnType<ShelfWatch['look']>>> = [];
      for (const shelf of mine) {
        found.push({
          name: shelf.name,
          isThere: shelf.state === 'ready' || shelf.state === 'new',
          lacksBytes: await lacks(volume, shelf),
          hadAllAt: hadAll.get(pairKey(volume, shelf.name)) ?? null,
          secondsPerByte: secondsPerByte(await rateNow(volume, shelf.name)),
        });
      }
      return found;
    },
    async ended(run) {
      counted.delete(pairKey(run.volume, run.shelf));
      const before = await rate(run.volume, run.shelf);
      const after = withRun(before, rateOf(run));
      if (after !== before) await store.putBackupNote(rateKey(run.volume, run.shelf), JSON.stringify(after));
    },
  };
}

/** What lacked nothing and changed may lack something now. */
function holdsFor(last: { sums: string; bytes: number }, sums: string): number {
  if (last.sums === sums) return COUNT_MS;
  return last.bytes === 0 ? 0 : CHANGED_MS;
}

/** Each byte is written and read back. */
function rateOf({ movedBytes, copyingSeconds }: BackupRun): CopyRate {
  return { bytes: movedBytes / 2, seconds: copyingSeconds };
}
