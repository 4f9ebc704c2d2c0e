import type { CopyPort, Pace, ReadItem, ReadOutcome } from '../../core/backup/copy-port.ts';
import type { ArrivedVersion, ReadVersion, SumStorePort } from '../../core/cards/known-list.ts';
import type { ToRead } from '../../core/cards/list-check.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { keepPace } from './keep-pace.ts';

export interface ListReadingDeps {
  /** Where a volume lies; `null`: it is not there now. */
  rootOf: (volume: string) => string | null;
  contents: Pick<SumStorePort, 'putRead'>;
  reader: Pick<CopyPort, 'readBack'>;
  /** How fast a volume may be read now. */
  pace: (volume: string) => Pace;
  clock: Clock;
  log: Log;
}

/**
 * Reads files one volume after the other, and one batch after the other; each is kept, and `look` called, before the next
 * but one begins. Nothing on a volume that is away is read.
 */
export async function readListed(
  deps: ListReadingDeps,
  toRead: readonly ToRead[],
  look: () => Promise<void>,
  signal: AbortSignal,
): Promise<void> {
  for (const [volume, files] of Map.groupBy(toRead, ({ version }) => version.volume)) {
    const root = deps.rootOf(volume);
    if (root !== null && !signal.aborted) await readOn(deps, { volume, root, files }, look, signal);
  }
}

async function readOn(
  { contents, reader, pace, clock, log }: ListReadingDeps,
  { volume, root, files }: { volume: string; root: string; files: readonly ToRead[] },
  look: () => Promise<void>,
  signal: AbortSignal,
): Promise<void> {
  const items = files.map(
    ({ version: { path, size }, format }, id): ReadItem => ({ id, path, size, expected: null, also: [format] }),
  );
  const settled = async (outcomes: ReadOutcome[]): Promise<void> => {
    await contents.putRead(outcomes.flatMap((outcome) => readVersion(files[outcome.id]?.version, outcome)));
    await look();
  };
  const reading = reader.readBack({ place: { volume: root }, pace: pace(volume) }, items, { settled }, signal);
  const stopPacing = keepPace(reading, () => pace(volume), clock);
  const end = await reading.end.finally(stopPacing);
  if (end.ended === 'broken')
    log.warn({ volume, reason: end.trouble.reason }, `Files were not compared with their list: ${end.trouble.message}`);
}

/** Nothing of a file that was read as another version than the one that is known. */
function readVersion(version: ArrivedVersion | undefined, outcome: ReadOutcome): ReadVersion[] {
  if (outcome.is !== 'read' || version === undefined) return [];
  if (outcome.mtimeNs !== version.mtimeNs || outcome.bytes !== version.size) return [];
  const { volume, path, size, mtimeNs } = version;
  return [{ volume, path, size, mtimeNs, sums: { ...outcome.sums, xxh64: outcome.hash }, readAt: outcome.readAt }];
}
