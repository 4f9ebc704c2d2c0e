import type { BackupRun } from '../../core/backup/backup-run.ts';
import type { Log } from '../../core/ports.ts';
import { formatBytes, formatCount } from '../../core/units.ts';

/** Into the log: how a run came out. */
export function tellRun(log: Log, run: BackupRun): void {
  const { volume, shelf, cause, stage, files, bytes, verifiedFiles, failures, changed, why } = run;
  const fields = { volume, shelf, cause, stage, files, bytes, verifiedFiles, failures, changed, reason: why?.reason };
  if (why !== null) log.warn(fields, `The backup of ${volume} to ${shelf} did not end well: ${why.message}`);
  else if (failures > 0) {
    log.warn(
      fields,
      `The backup of ${volume} to ${shelf} left ${formatCount(failures, 'file')} behind: ${run.troubles[0]?.message ?? ''}`,
    );
  } else
    log.info(
      fields,
      `The backup of ${volume} to ${shelf} ended: ${formatCount(files, 'file')}, ${formatBytes(bytes)}.`,
    );
}
