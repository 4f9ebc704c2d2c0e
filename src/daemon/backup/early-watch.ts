import type { Assessment } from '../../core/assess/assessment.ts';
import { type EarlyState, early } from '../../core/backup/early.ts';
import type { Clock } from '../../core/ports.ts';

export interface EarlyDeps {
  /** Names of the volumes that have backups. */
  volumes: readonly string[];
  assessment: () => Assessment;
  clock: Clock;
  begin: (volume: string, cause: 'card-finished' | 'age') => void;
}

const ASK_MS = 60_000;

/** Begins backups before the night, where something has come and is through. The returned function ends that. */
export function watchEarly({ volumes, assessment, clock, begin }: EarlyDeps): () => void {
  const states = new Map<string, EarlyState | null>();
  let cancel = (): void => {};
  function ask(): void {
    const now = assessment();
    for (const name of volumes) {
      const { state, start } = early(states.get(name) ?? null, seenOf(now, name), clock.now());
      states.set(name, state);
      if (start !== null) begin(name, start);
    }
    cancel = clock.after(ASK_MS, ask);
  }
  cancel = clock.after(ASK_MS, ask);
  return () => cancel();
}

function seenOf({ volumes, arrivals, backups }: Assessment, name: string): Parameters<typeof early>[1] {
  const volume = volumes.find((one) => one.name === name);
  const begun = backups.runs.filter((run) => run.volume === name).map(({ startedAt }) => startedAt);
  const isLive = volume?.state === 'live';
  return {
    exposedBytes: isLive ? (volume.safety?.exposedBytes ?? null) : null,
    exposedSince: volume?.safety?.exposedSince ?? null,
    isArriving: arrivals.some(
      ({ volume: on, stage }) => on === name && (stage === 'copying' || stage === 'settling' || stage === 'probing'),
    ),
    lastBegun: begun.length === 0 ? null : Math.max(...begun),
  };
}
