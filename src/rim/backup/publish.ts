import { type BigIntStats, closeSync, linkSync, lstatSync, openSync, renameSync } from 'node:fs';
import { NEW_FLAGS } from './direct.ts';
import { removeIfThere } from './small-calls.ts';
import { type CallPath, isAsListed, StepError, type Task } from './steps.ts';

/** What is said where there are no hard links: FAT and exFAT have none, some servers and FUSE programs neither. */
const NO_LINKS: ReadonlySet<string> = new Set([
  'EPERM',
  'EOPNOTSUPP',
  'ENOTSUP',
  'ENOSYS',
  'EMLINK',
  'EINVAL',
  'EXDEV',
]);

const asPath = (path: CallPath): string => path as string;

/** `null`: there is nothing of that name. */
export function lookAt(path: CallPath): BigIntStats | null {
  return lstatSync(asPath(path), { bigint: true, throwIfNoEntry: false }) ?? null;
}

/** @throws StepError when the source is not the file that was listed any more */
export function ensureAsListed(task: Task): void {
  const stat = lookAt(task.source);
  if (stat === null || !isAsListed(task, stat)) throw new StepError({ is: 'changed' });
}

/**
 * Gives a verified part file its name, in one step that fails where the name is taken: a second name is made, then the first one
 * is removed. Renaming would overwrite.
 * @throws what the calls throw; EEXIST when something has that name
 */
export function publish(task: Task): void {
  try {
    linkSync(asPath(task.part), asPath(task.final));
  } catch (error) {
    if (!NO_LINKS.has((error as NodeJS.ErrnoException).code ?? '')) throw error;
    publishByClaim(task);
    return;
  }
  removeIfThere(task.part);
}

/**
 * Without hard links: an empty file of ours takes the name, which fails where it is taken, and is overwritten. The part's name says
 * meanwhile that this is so; whoever tidies up after a kill knows the empty file by it.
 */
function publishByClaim({ part, held, final }: Task): void {
  renameSync(asPath(part), asPath(held));
  closeSync(openSync(asPath(final), NEW_FLAGS, 0o600));
  renameSync(asPath(held), asPath(final));
}

/** Removes what is left of a file that goes no further, and says how many files that were. Its final name is touched only where an empty file of ours has it. */
export function removeParts({ part, held, final }: Pick<Task, 'part' | 'held' | 'final'>): number {
  let removed = 0;
  if (lookAt(held)?.isFile() === true) {
    if (lookAt(final)?.size === 0n) removeIfThere(final);
    removeIfThere(held);
    removed++;
  }
  if (lookAt(part)?.isFile() === true) {
    removeIfThere(part);
    removed++;
  }
  return removed;
}
