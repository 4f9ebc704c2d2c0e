import { messageOf } from '../../core/fault.ts';
import type { PathText } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import type { Evidence } from '../../core/root-port.ts';

export type Inspect = (paths: PathText[]) => Promise<Evidence[]>;

/** Each look costs one scan of all processes, whatever it looks at: so many files share one at the most. */
const batchLimit = 500;

export interface Inspector {
  /** Evidence of these files; an empty list when the looking failed (the root hangs, say). Never rejects. */
  ask(paths: readonly PathText[]): Promise<readonly Evidence[]>;
}

/** Gathers the questions of many units into few calls, one call at a time. */
export function createInspector(inspect: Inspect, log: Log): Inspector {
  const waiting: { paths: readonly PathText[]; answer: (evidence: Evidence[]) => void }[] = [];
  let busy = false;

  async function work(): Promise<void> {
    busy = true;
    // Questions of the same turn of the event loop go together.
    await Promise.resolve();
    while (waiting.length > 0) await askBatch(nextBatch());
    busy = false;
  }

  function nextBatch(): typeof waiting {
    let files = 0;
    let count = 0;
    for (const question of waiting) {
      if (count > 0 && files + question.paths.length > batchLimit) break;
      files += question.paths.length;
      count += 1;
    }
    return waiting.splice(0, count);
  }

  async function askBatch(batch: typeof waiting): Promise<void> {
    const found = new Map<PathText, Evidence>();
    try {
      const paths = batch.flatMap((question) => question.paths);
      for (let at = 0; at < paths.length; at += batchLimit) {
        for (const evidence of await inspect(paths.slice(at, at + batchLimit))) found.set(evidence.path, evidence);
      }
    } catch (error) {
      log.debug({ error: messageOf(error) }, 'looking at arrivals failed, tried again');
      found.clear();
    }
    for (const { paths, answer } of batch) answer(paths.flatMap((path) => found.get(path) ?? []));
  }

  return {
    ask(paths) {
      return new Promise((answer) => {
        waiting.push({ paths, answer });
        if (!busy) void work();
      });
    },
  };
}
