import type { PathText } from '../../core/model.ts';
import type { RootPort } from '../../core/root-port.ts';

/** Paths in one question: each is looked at, and the root's process answers other questions in between. */
const batch = 5_000;

/** Those of any number of paths that are not there now. Rejects when the root is away. */
export async function askMissing(root: Pick<RootPort, 'missing'>, paths: readonly PathText[]): Promise<Set<PathText>> {
  const away = new Set<PathText>();
  for (let at = 0; at < paths.length; at += batch) {
    for (const path of await root.missing(paths.slice(at, at + batch))) away.add(path);
  }
  return away;
}
