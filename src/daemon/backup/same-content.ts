import type { BacklogFile, BackupStorePort } from '../../core/backup/copies.ts';
import type { CopyPort, Pace, ReadOutcome } from '../../core/backup/copy-port.ts';
import type { Clock } from '../../core/ports.ts';

export interface SameDeps {
  store: Pick<BackupStorePort, 'putVersions'>;
  copies: Pick<CopyPort, 'readBack'>;
  clock: Pick<Clock, 'now'>;
}

/**
 * Files whose time of modification changed and nothing else: read again, they have the content of the copy that is there. The ledger is told, and
 * they need no copy. Comes back with those that do. A file that cannot be read now is one of them: copying it tells why.
 */
export async function withoutTouched(
  { store, copies, clock }: SameDeps,
  files: readonly BacklogFile[],
  volume: { path: string; pace: Pace },
  signal: AbortSignal,
): Promise<BacklogFile[]> {
  const asked = files.filter(({ file, earlier }) => earlier?.state === 'good' && earlier.size === file.size);
  if (asked.length === 0) return [...files];
  const items = asked.map(({ file, earlier }, id) => {
    return { id, path: file.path, size: file.size, expected: earlier?.hash ?? null };
  });
  const same = new Map<BacklogFile, Extract<ReadOutcome, { is: 'read' }>>();
  const settled = (outcomes: ReadOutcome[]) => {
    for (const outcome of outcomes) {
      const one = asked[outcome.id];
      // The hash must be of the version that is to be copied.
      const isIt = outcome.is === 'read' && outcome.matches === true && outcome.mtimeNs === one?.file.mtimeNs;
      if (isIt && one !== undefined) same.set(one, outcome);
    }
  };
  await copies.readBack({ place: { volume: volume.path }, pace: volume.pace }, items, { settled }, signal).end;
  const at = clock.now();
  await store.putVersions(
    [...same].map(([{ file }, { algorithm, hash }]) => {
      const { volume: name, path: source, size, mtimeNs } = file;
      return { volume: name, source, size, mtimeNs, algorithm, hash, readAt: at };
    }),
  );
  return files.filter((one) => !same.has(one));
}
