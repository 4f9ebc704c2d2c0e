import type { Steps } from '../core/cards/steps.ts';
import type { Clock } from '../core/ports.ts';

/** So many files are placed in 2 to 5 ms. */
const slice = 1000;

/**
 * Works through a list in slices, with a turn of the loop between two of them: a folder may hold 100,000 files, and nothing
 * else is to wait for that. A short list is worked through at once.
 */
export async function inTurns<Item, Result>(
  items: readonly Item[],
  work: (some: readonly Item[]) => readonly Result[],
): Promise<Result[]> {
  const results: Result[] = [];
  for (let from = 0; from < items.length; from += slice) {
    if (from > 0) await nextTurn();
    for (const result of work(items.slice(from, from + slice))) results.push(result);
  }
  return results;
}

/** Work that pauses holds the loop for about so many ms between two pauses of ours. */
const holdMs = 8;

/** Works through steps, with a turn of the loop whenever they have held it for a while. */
export async function inSteps<Result>(steps: Steps<Result>, clock: Pick<Clock, 'ticks'>): Promise<Result> {
  for (let from = clock.ticks(); ; ) {
    const step = steps.next();
    if (step.done === true) return step.value;
    if (clock.ticks() - from < holdMs) continue;
    await nextTurn();
    from = clock.ticks();
  }
}

function nextTurn(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve));
}
