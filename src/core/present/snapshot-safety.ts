import type { VolumeAssessment } from '../assess/assessment.ts';
import type { BackupOutlook } from '../backup/backup-view.ts';
import type { Hindrance, WaitReason } from '../backup/due.ts';
import type { StartReason } from '../backup/due-state.ts';
import type { OnCards } from '../cards/kept-card.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { type OnCardSnapshot, onCardsSnapshot } from './kept-card.ts';

/** What would be lost, and when that changes. `null`: not known. */
export interface SafetySnapshot {
  exposedBytes: number | null;
  exposedClips: number | null;
  exposedSeconds: number | null;
  exposedSince: IsoTime | null;
  /** Of the exposed bytes so many lie on cards that a person said are kept: no verified copies. */
  onCardsBytes: number | null;
  onCards: OnCardSnapshot[];
  /** What is exposed times how long, in bytes times seconds. */
  exposedByteSeconds: number | null;
  lastVerifiedAt: IsoTime | null;
  /** A shelf or a program of the user's is to hold copies of it. */
  hasBackup: boolean | null;
  /** By what is known now: if nothing comes, and every shelf stays where it is. */
  nextBackupAt: IsoTime | null;
  nextBackupReason: StartReason | null;
  /** It is due, and waits for that. */
  nextBackupHeldBy: Hindrance | null;
  /** Why none begins now; `running`: one is under way. */
  backupWaits: WaitReason | null;
  /** All of what there is to copy fits the windows of its backups, as fast as copying went before. */
  windowFits: boolean | null;
  /** Of the fullest window, the part that is left over; below 0 when it does not fit. */
  windowHeadroom: number | null;
  /** What each backup of the volume has to copy, beside its window. */
  nights: NightSnapshot[];
  /** That the whole volume is lost before the next backup has ended; with usual figures for drives, not those of these. */
  lossChance: number | null;
  loss: LossSnapshot | null;
}

export interface NightSnapshot {
  bytes: number;
  seconds: number;
  windowSeconds: number;
  fits: boolean;
  /** Most that one night takes, with reading back. */
  nightBytes: number;
  /** Until what is there fits its night, with what a mean day brings; 0: nothing is to be copied; `null`: never. */
  nights: number | null;
  bytesPerDay: number;
}

export interface LossSnapshot {
  /** Until the next backup has ended. */
  seconds: number;
  byDrives: number;
  byOther: number;
  /** What was reckoned with: chances in a year. */
  drivesFailInYear: number;
  otherInYear: number;
}

/** Of one volume. `verifiedAt`: when a copy was last read back; `outlook`: `null` without a backup. */
export function safetySnapshot(
  { safety }: Pick<VolumeAssessment, 'safety'>,
  {
    verifiedAt,
    outlook,
    onCards = null,
    hasBackup = null,
  }: { verifiedAt: number | null; outlook: BackupOutlook | null; onCards?: OnCards | null; hasBackup?: boolean | null },
  iso: IsoOf,
): SafetySnapshot {
  const instant = (at: number | null | undefined) => (at == null ? null : iso(Math.round(at)));
  const tbHours = outlook?.exposedTbHours ?? null;
  return {
    exposedBytes: safety?.exposedBytes ?? null,
    exposedClips: safety?.exposedClips ?? null,
    exposedSeconds: safety?.exposedSeconds ?? null,
    exposedSince: instant(safety?.exposedSince),
    ...onCardsSnapshot(onCards, safety?.exposedBytes ?? null, iso),
    exposedByteSeconds: tbHours === null ? null : Math.round(tbHours * 3600e12),
    lastVerifiedAt: instant(verifiedAt),
    hasBackup,
    nextBackupAt: instant(outlook?.next?.at),
    nextBackupReason: outlook?.next?.reason ?? null,
    nextBackupHeldBy: outlook?.next?.heldBy ?? null,
    backupWaits: outlook?.wait ?? null,
    ...windowOf(outlook?.nights ?? []),
    lossChance: outlook?.loss?.chance ?? null,
    loss: lossOf(outlook?.loss ?? null),
  };
}

function windowOf(nights: BackupOutlook['nights']): Pick<SafetySnapshot, 'windowFits' | 'windowHeadroom' | 'nights'> {
  const known = nights.filter((night) => night !== null);
  const isWhole = known.length > 0 && known.length === nights.length;
  return {
    windowFits: known.some(({ fits }) => !fits) ? false : isWhole ? true : null,
    windowHeadroom: known.length === 0 ? null : Math.min(...known.map(({ headroom }) => headroom)),
    nights: known.map(({ bytes, seconds, windowSeconds, fits, nightBytes, nights: count, bytesPerDay }) => ({
      ...{
        bytes,
        seconds: Math.round(seconds),
        windowSeconds,
        fits,
        nightBytes: Math.round(nightBytes),
        nights: count,
      },
      bytesPerDay: Math.round(bytesPerDay),
    })),
  };
}

function lossOf(loss: BackupOutlook['loss']): LossSnapshot | null {
  if (loss === null) return null;
  const { hours, byDrives, byOther, wear } = loss;
  return {
    ...{ seconds: Math.round(hours * 3600), byDrives, byOther },
    ...{ drivesFailInYear: wear.failsInYear, otherInYear: wear.otherInYear },
  };
}
