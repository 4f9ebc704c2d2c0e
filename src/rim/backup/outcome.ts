import type { CopyFailure } from '../../core/backup/copy-failure.ts';
import { failureOf, failureWords } from '../../core/backup/copy-failure.ts';
import type { CopyTrouble } from '../../core/backup/copy-port.ts';
import type { PathText } from '../../core/model.ts';
import type { Setback } from './steps.ts';

/** The outcome of a file that went no further; none when the job was stopped. */
export function outcomeOf(
  id: number,
  source: PathText,
  target: PathText,
  setback: Setback,
): (
  | { id: number; is: 'changed' }
  | { id: number; is: 'mismatch'; expected: string; read: string; trouble: CopyTrouble }
  | { id: number; is: 'failed'; trouble: CopyTrouble }
)[] {
  switch (setback.is) {
    case 'stopped':
      return [];
    case 'changed':
      return [{ id, is: 'changed' }];
    case 'mismatch':
      return [{ id, ...setback, trouble: mismatchTrouble(target) }];
    case 'failed': {
      const { step, code, detail } = setback;
      const reason = setback.reason ?? failureOf(code, step);
      return [{ id, is: 'failed', trouble: troubleOf(reason, step === 'read-source' ? source : target, detail, code) }];
    }
  }
}

export function troubleOf(
  reason: CopyFailure,
  path: PathText,
  detail: string | null,
  code: string | null,
): CopyTrouble {
  return { reason, path, ...failureWords(reason, detail), code };
}

function mismatchTrouble(path: PathText): CopyTrouble {
  const { advice } = failureWords('shelf-damaged', null);
  return { reason: 'shelf-damaged', path, message: 'what was read back is not what was written', advice, code: null };
}
