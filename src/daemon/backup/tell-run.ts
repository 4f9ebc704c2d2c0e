import type { BackupRun } from '../../core/backup/backup-run.ts';
import { type CommandRun, unsaid } from '../../core/backup/command-run.ts';
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

/** The same of a program of the user's. */
export function tellCommand(log: Log, run: CommandRun): void {
  const { volume, name, cause, stage, reported, verified, failures, noReports, unknownFiles, why } = run;
  const fields = {
    ...{ volume, name, cause, stage, reported: reported.files, verified: verified.files, failures },
    ...{ noReports, unknownFiles, reason: why?.reason },
  };
  const what = `The copying of ${volume} to ${name} by its command`;
  const left = unsaid(run);
  if (why !== null) log.warn(fields, `${what} did not end well: ${why.message}`);
  else if (failures > 0) log.warn(fields, `${what} left files behind: ${run.troubles[0]?.message ?? ''}.`);
  else if (left > 0 && stage === 'done') log.warn(fields, `${what} said nothing of ${formatCount(left, 'file')}.`);
  else
    log.info(
      fields,
      `${what} ended: it says that it has ${formatCount(reported.files, 'file')} more, ${formatBytes(reported.bytes)}.`,
    );
}
