import type { BackupStorePort } from '../../core/backup/copies.ts';
import { type NightlyState, nextNightly, nightly } from '../../core/backup/nightly.ts';
import { type Timetable, timetable, wakeText } from '../../core/backup/slots.ts';
import type { Instant } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';

/** When the shelves of a volume are due. */
export interface NightlyPlan {
  volume: string;
  shelves: readonly string[];
  /** Five cron fields. */
  nightly: string;
  windowSeconds: number;
}

export interface NightlyDeps {
  plans: readonly NightlyPlan[];
  zone: string;
  store: Pick<BackupStorePort, 'backupNote' | 'putBackupNote'>;
  clock: Clock;
  /** Wakes at the times of the day in cron's fields; the returned function ends it. */
  timer: (fields: string, zone: string, wake: () => void) => () => void;
  begin: (plan: NightlyPlan, cause: 'nightly' | 'catch-up') => void;
  failed: (error: unknown) => void;
}

export interface NightlyWatch {
  start(): void;
  /** When the next backup of a volume begins; `null`: never. */
  nextAt(volume: string): Instant | null;
  stop(): void;
}

/** Besides when it is woken it is asked this often: timers know nothing of sleep, and clocks jump. */
const ASK_MS = 60_000;

/** Begins the nightly backups: each slot once, over restarts, sleep and changes of the clocks. */
export function createNightlyWatch({ plans, zone, store, clock, timer, begin, failed }: NightlyDeps): NightlyWatch {
  const tables = new Map<NightlyPlan, Timetable>(plans.map((plan) => [plan, timetable(plan.nightly, zone)]));
  const stops: (() => void)[] = [];
  let asking = Promise.resolve();
  let cancel = (): void => {};

  async function ask(plan: NightlyPlan, table: Timetable): Promise<void> {
    const key = `nightly ${JSON.stringify([plan.volume, plan.nightly, plan.shelves])}`;
    const kept = await store.backupNote(key);
    const known = kept === null ? null : (JSON.parse(kept) as NightlyState);
    const { state, start } = nightly(table, known, clock.now());
    // Kept first: rather a night that is made up for by hand than two runs for one slot, again and again.
    if (state !== known) await store.putBackupNote(key, JSON.stringify(state));
    if (start !== null) begin(plan, start);
  }

  function askAll(): void {
    asking = asking.then(async () => {
      for (const [plan, table] of tables) await ask(plan, table).catch(failed);
    });
  }

  return {
    start() {
      for (const table of tables.values()) stops.push(timer(wakeText(table), zone, askAll));
      const again = (): void => {
        askAll();
        cancel = clock.after(ASK_MS, again);
      };
      again();
    },
    nextAt(volume) {
      const found = [...tables].flatMap(([plan, table]) =>
        plan.volume === volume ? (nextNightly(table, clock.now()) ?? []) : [],
      );
      return found.length === 0 ? null : Math.min(...found);
    },
    stop() {
      cancel();
      for (const stop of stops) stop();
    },
  };
}
