import type { Assessment } from '../../core/assess/assessment.ts';
import { type BackupRun, endOfRun, type RunCause } from '../../core/backup/backup-run.ts';
import type { BackupOutlook } from '../../core/backup/backup-view.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import { type DueSeen, decide, type Job, type ShelfSeen } from '../../core/backup/due.ts';
import { type JobState, NEW_JOB, noteJob, type RunEnd, type Start } from '../../core/backup/due-state.ts';
import type { NightlyTimer } from '../../core/backup/nightly-port.ts';
import { backupOutlook, type JobKnown, meanDayBytes } from '../../core/backup/outlook.ts';
import { hindranceOn } from '../../core/backup/pace.ts';
import { timetable } from '../../core/backup/slots.ts';
import type { Instant } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import type { VolumeWatch } from './volume-watch.ts';

/** One backup of the configuration. */
export interface DuePlan {
  volume: string;
  shelves: readonly string[];
  /** Five cron fields. */
  nightly: string;
  windowSeconds: number;
  /** It copies to no shelf: what it will have done is no matter of the volume's next backup. */
  isBeside?: boolean;
}

export interface DueDeps {
  plans: readonly DuePlan[];
  zone: string;
  store: Pick<BackupStorePort, 'backupNote' | 'putBackupNote'>;
  clock: Clock;
  timer: NightlyTimer;
  assessment: () => Assessment;
  volumes: VolumeWatch;
  /** `null`: they were not all looked at yet. */
  shelves: (
    volume: string,
    shelves: readonly string[],
  ) => Promise<(ShelfSeen & { secondsPerByte: number | null })[] | null>;
  begin: (order: { volume: string; shelf: string; cause: RunCause; until: number | null }) => void;
  changed: () => void;
  failed: (error: unknown) => void;
  /** All were asked once more. */
  asked?: () => void;
}

export interface DueWatch {
  start(): Promise<void>;
  /** One run, of whatever cause, is over. */
  ended(run: Pick<BackupRun, 'volume' | 'shelf' | 'cause' | 'startedAt' | 'stage' | 'troubles'>): Promise<void>;
  /** Something changed that may begin one. */
  again(): Promise<void>;
  /** By volume. */
  outlooks(): ReadonlyMap<string, BackupOutlook>;
  /** When the last run from a volume to a shelf went well, where one did. */
  successes(): { volume: string; shelf: string; at: Instant }[];
  stop(): void;
}

/** Besides when it is woken it is asked this often: timers know nothing of sleep, and clocks jump. */
const ASK_MS = 60_000;

interface Watched {
  plan: DuePlan;
  job: Job;
  key: string;
  state: JobState;
  /** Of the run that goes on: what is over. */
  ends: Record<string, RunEnd>;
  known: JobKnown | null;
}

/** Begins backups when they are due: what is decided is kept before it is begun, so that nothing is begun twice. */
export function createDueWatch(deps: DueDeps): DueWatch {
  const { plans, zone, store, clock, timer, assessment, volumes, begin, failed } = deps;
  const jobs = plans.map((plan, index): Watched => {
    const job = { table: timetable(plan.nightly, zone), windowSeconds: plan.windowSeconds };
    const nth = plans.slice(0, index).filter(({ volume }) => volume === plan.volume).length;
    return { plan, job, key: `due ${JSON.stringify([plan.volume, nth])}`, state: NEW_JOB, ends: {}, known: null };
  });
  const outlooks = new Map<string, BackupOutlook>();
  const stops: (() => void)[] = [];
  let working = Promise.resolve();
  let isStopped = false;
  let cancel = (): void => {};

  /** One step at a time: a decision rests on what the one before left. */
  function inTurn(step: () => Promise<void>): Promise<void> {
    working = working.then(async () => {
      if (!isStopped) await step().catch(failed);
    });
    return working;
  }

  async function note(one: Watched, event: Parameters<typeof noteJob>[1]): Promise<void> {
    const state = noteJob(one.state, event, clock.now());
    if (state === one.state) return;
    // What ended has ended, whether that can be kept or not; what begins is kept first.
    if (event.type !== 'started') one.state = state;
    await store.putBackupNote(one.key, JSON.stringify(state));
    one.state = state;
  }

  async function open(one: Watched): Promise<void> {
    const kept = await store.backupNote(one.key);
    if (kept !== null) one.state = JSON.parse(kept) as JobState;
    await note(one, { type: 'opened', shelves: one.plan.shelves });
  }

  async function ask(one: Watched): Promise<void> {
    const { volume } = one.plan;
    const coming = await volumes.look(volume);
    const shelves = await deps.shelves(volume, one.plan.shelves);
    if (shelves === null) return;
    const seen: DueSeen = { shelves, ...coming, hindrance: hindranceOn(assessment(), volume) };
    const secondsPerByte = shelves.map((shelf) => shelf.secondsPerByte);
    const decision = decide(one.job, one.state, seen, clock.now());
    if (decision.do === 'start') await startRun(one, decision);
    one.known = one.plan.isBeside === true ? null : { job: one.job, state: one.state, seen, secondsPerByte };
  }

  async function startRun(one: Watched, start: Start): Promise<void> {
    // Kept first: rather a night that is made up for by hand than two runs for one slot, again and again.
    await note(one, { type: 'started', start });
    one.ends = {};
    const { volume } = one.plan;
    for (const shelf of start.shelves) begin({ volume, shelf, cause: start.reason, until: start.until });
  }

  async function askAll(): Promise<void> {
    for (const one of jobs) await ask(one).catch(failed);
    lookAhead();
    deps.asked?.();
  }

  /** What is to come, anew. */
  function lookAhead(): void {
    const now = clock.now();
    const { volumes: assessed, projects } = assessment();
    for (const name of new Set(plans.map(({ volume }) => volume))) {
      const known = jobs.filter(({ plan }) => plan.volume === name).flatMap((one) => one.known ?? []);
      if (known.length === 0) continue;
      const volume = assessed.find((one) => one.name === name);
      const before = outlooks.get(name);
      const next = backupOutlook(
        known,
        {
          bytesPerDay: meanDayBytes(projects, name, now),
          exposed: known[0]?.seen.exposed ?? null,
          layout: volume?.layout ?? null,
          failed: volume?.detected?.health.missing ?? 0,
        },
        now,
      );
      outlooks.set(name, next);
      if (JSON.stringify(before) !== JSON.stringify(next)) deps.changed();
    }
  }

  async function ended(run: Parameters<DueWatch['ended']>[0]): Promise<void> {
    for (const one of jobs) {
      if (one.plan.volume !== run.volume || !one.plan.shelves.includes(run.shelf)) continue;
      const how = endOfRun(run);
      if (one.state.run?.shelves.includes(run.shelf)) await endedOf(one, run.shelf, how);
      else await note(one, { type: 'asked', shelf: run.shelf, startedAt: run.startedAt, how });
    }
  }

  /** The job's run is over when it is for all its shelves. */
  async function endedOf(one: Watched, shelf: string, how: RunEnd): Promise<void> {
    one.ends = { ...one.ends, [shelf]: how };
    const { run } = one.state;
    if (run?.shelves.every((name) => name in one.ends)) await note(one, { type: 'ended', shelves: one.ends });
  }

  return {
    async start() {
      await inTurn(async () => {
        for (const one of jobs) await open(one).catch(failed);
      });
      for (const { plan } of jobs) stops.push(timer.start(plan.nightly, zone, () => void inTurn(askAll)));
      const again = (): void => {
        void inTurn(askAll);
        cancel = clock.after(ASK_MS, again);
      };
      again();
    },
    async ended(run) {
      await inTurn(async () => {
        await ended(run);
        await askAll();
      });
    },
    again: () => inTurn(askAll),
    outlooks: () => outlooks,
    successes: () =>
      jobs.flatMap(({ plan: { volume, shelves }, state }) =>
        shelves.flatMap((shelf) => {
          const at = state.shelves[shelf]?.lastSuccess ?? null;
          return at === null ? [] : [{ volume, shelf, at }];
        }),
      ),
    stop() {
      isStopped = true;
      cancel();
      for (const stop of stops) stop();
    },
  };
}
