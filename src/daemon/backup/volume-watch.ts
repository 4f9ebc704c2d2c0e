import type { Assessment } from '../../core/assess/assessment.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import type { DueSeen } from '../../core/backup/due.ts';
import { type ExposureTime, watchExposure } from '../../core/backup/exposure-time.ts';
import { type Coming, watchComing } from '../../core/backup/quiet.ts';
import type { Clock } from '../../core/ports.ts';

export interface VolumeWatchDeps {
  assessment: () => Assessment;
  store: Pick<BackupStorePort, 'backupNote' | 'putBackupNote'>;
  clock: Pick<Clock, 'now'>;
}

/** Follows what comes to volumes, and how long it is exposed. */
export interface VolumeWatch {
  /** One more look. Rejects when what is kept of it cannot be read. */
  look(volume: string): Promise<Pick<DueSeen, 'exposed' | 'footageCameAt' | 'quietSince'>>;
}

/** How often the sum is kept: what passes between two of these is reckoned from the bytes, should the daemon be killed. */
const KEEP_MS = 10 * 60_000;

export function createVolumeWatch({ assessment, store, clock }: VolumeWatchDeps): VolumeWatch {
  const comings = new Map<string, Coming | null>();
  const exposures = new Map<string, ExposureTime | null>();
  const kept = new Map<string, { at: number; bytes: number }>();
  const keyOf = (volume: string) => `exposed ${JSON.stringify([volume])}`;

  async function before(volume: string): Promise<ExposureTime | null> {
    const known = exposures.get(volume);
    if (known !== undefined) return known;
    const text = await store.backupNote(keyOf(volume));
    return text === null ? null : (JSON.parse(text) as ExposureTime);
  }

  async function keep(volume: string, exposure: ExposureTime): Promise<void> {
    const last = kept.get(volume);
    const isFresh = last !== undefined && exposure.at >= last.at && exposure.at - last.at < KEEP_MS;
    if (isFresh && last.bytes === exposure.bytes) return;
    await store.putBackupNote(keyOf(volume), JSON.stringify(exposure));
    kept.set(volume, exposure);
  }

  return {
    async look(name) {
      const now = clock.now();
      const { volumes, arrivals } = assessment();
      const volume = volumes.find((one) => one.name === name);
      const safety = volume?.state === 'live' ? volume.safety : null;
      const isArriving = arrivals.some(
        ({ volume: on, stage }) => on === name && (stage === 'copying' || stage === 'settling' || stage === 'probing'),
      );
      const exposedBytes = safety?.exposedBytes ?? null;
      const coming = watchComing(comings.get(name) ?? null, { exposedBytes, isArriving }, now);
      comings.set(name, coming);
      const exposed = watchExposure(await before(name), safety, now);
      exposures.set(name, exposed);
      if (exposed !== null) await keep(name, exposed);
      return {
        exposed,
        footageCameAt: coming?.cameAt ?? null,
        quietSince: isArriving || coming === null ? null : coming.busyAt,
      };
    },
  };
}
