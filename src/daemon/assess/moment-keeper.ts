import type { Assessment } from '../../core/assess/assessment.ts';
import {
  foldBy,
  foldMoments,
  HOUR_MS,
  MINUTE_MS,
  MINUTES_KEPT_MS,
  momentOf,
  type VolumeMoment,
} from '../../core/assess/moments.ts';
import type { Instant } from '../../core/model.ts';
import type { LedgerPort } from '../../core/store-ports.ts';

export interface MomentKeeper {
  /** How things stand now. Cheap; may be called at every pass. */
  note(assessment: Assessment): void;
  /** Keeps what was noted of the minute that is not over. */
  flush(): Promise<void>;
}

interface Noted {
  minute: Instant;
  moments: VolumeMoment[];
  /** Hours before this one are kept. */
  hour: Instant | null;
}

/** Keeps how each volume stood, a row a minute, and makes hours of them. A store that refuses costs the plots a gap, nothing else. */
export function createMomentKeeper(
  ledger: Pick<LedgerPort, 'moments' | 'putMoments'>,
  refused: (error: unknown) => void,
): MomentKeeper {
  const noted = new Map<string, Noted>();
  let writing: Promise<void> = Promise.resolve();

  function keepMinute(volume: string, one: Noted): void {
    const folded = foldMoments(one.moments, one.minute);
    one.moments = [];
    if (folded === null) return;
    const hour = Math.floor(folded.at / HOUR_MS) * HOUR_MS;
    const isNewHour = one.hour === null || hour > one.hour;
    one.hour = hour;
    writing = writing
      .then(async () => {
        await ledger.putMoments(volume, 'minute', [folded], null);
        if (isNewHour) await keepHours(volume, hour);
      })
      .catch(refused);
  }

  /** All hours that are over and were not made: after a restart the ones that the last daemon left, too. */
  async function keepHours(volume: string, before: Instant): Promise<void> {
    const since = before - MINUTES_KEPT_MS;
    const [minutes, hours] = await Promise.all([
      ledger.moments(volume, 'minute', since),
      ledger.moments(volume, 'hour', since),
    ]);
    const made = new Set(hours.map(({ at }) => at));
    const over = foldBy(minutes, HOUR_MS).filter(({ at }) => at < before && !made.has(at));
    await ledger.putMoments(volume, 'hour', over, since);
  }

  return {
    note(assessment) {
      const minute = Math.floor(assessment.at / MINUTE_MS) * MINUTE_MS;
      for (const volume of assessment.volumes) {
        const one = noted.get(volume.name) ?? { minute, moments: [], hour: null };
        noted.set(volume.name, one);
        // The clock may have been put back: another minute all the same.
        if (one.minute !== minute) keepMinute(volume.name, one);
        one.minute = minute;
        one.moments.push(momentOf(volume, assessment));
      }
    },
    async flush() {
      for (const [volume, one] of noted) keepMinute(volume, one);
      await writing;
    },
  };
}
