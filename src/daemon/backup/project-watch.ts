import type { Assessment } from '../../core/assess/assessment.ts';
import type { ShelfState } from '../../core/backup/backup-view.ts';
import { type BackupStorePort, PROJECT_FILE_RANK } from '../../core/backup/copies.ts';
import { hindranceOn } from '../../core/backup/pace.ts';
import type { Clock } from '../../core/ports.ts';

export interface ProjectWatchDeps {
  /** Names of the volumes that have backups. */
  volumes: readonly string[];
  assessment: () => Assessment;
  store: Pick<BackupStorePort, 'backlog'>;
  shelves: () => readonly ShelfState[];
  clock: Clock;
  begin: (order: { volume: string; shelf: string; cause: 'project-files'; onlyRank: number }) => void;
  failed: (error: unknown) => void;
}

/** A day's work is at most so long without an earlier version on a shelf. */
const EACH_MS = 3_600_000;
/** The first look after a start. */
const FIRST_MS = 5 * 60_000;

/**
 * Once an hour project files and graphics that a shelf lacks are copied to it, whatever else is due: what was there before is kept as an
 * earlier version. The returned function ends that.
 */
export function watchProjectFiles(deps: ProjectWatchDeps): () => void {
  const { volumes, assessment, store, shelves, clock, begin, failed } = deps;
  let cancel = (): void => {};

  async function ask(volume: string): Promise<void> {
    if (hindranceOn(assessment(), volume) !== null) return;
    for (const { name, state, known, volumes: held } of shelves()) {
      if (state !== 'ready' || known === null || !held.includes(volume)) continue;
      const { files } = await store.backlog(volume, known.id, PROJECT_FILE_RANK, null);
      if (files.length > 0) begin({ volume, shelf: name, cause: 'project-files', onlyRank: PROJECT_FILE_RANK });
    }
  }

  async function askAll(): Promise<void> {
    for (const volume of volumes) await ask(volume).catch(failed);
  }

  function again(): void {
    void askAll();
    cancel = clock.after(EACH_MS, again);
  }

  cancel = clock.after(FIRST_MS, again);
  return () => cancel();
}
