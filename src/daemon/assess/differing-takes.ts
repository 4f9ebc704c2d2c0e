import type { DifferingTake } from '../../core/assess/assessment.ts';
import type { TwiceTake } from '../../core/assess/project-signs.ts';
import type { SumStorePort } from '../../core/cards/known-list.ts';

/**
 * Takes that lie there twice and are not the same: of another size, or of one size where the contents of two are known, from a backup
 * or a list, and are not one. What was not read is not known to differ.
 */
export async function differingTakes(
  volume: string,
  takes: readonly TwiceTake[],
  { versionsAt }: Pick<SumStorePort, 'versionsAt'>,
): Promise<DifferingTake[]> {
  const alike = takes.filter(({ sameSize }) => sameSize);
  const asked = alike.flatMap(({ places }) => places.map(({ path }) => ({ volume, path })));
  const known = asked.length === 0 ? [] : await versionsAt(asked);
  const hashes = new Map(known.filter(({ isArriving }) => !isArriving).map(({ path, sums }) => [path, sums.xxh64]));
  return takes.flatMap(({ name, sameSize, places }): DifferingTake[] => {
    if (!sameSize) return [{ name, places, by: 'size' }];
    const read = places.filter(({ path }) => hashes.get(path) !== undefined);
    const contents = new Set(read.map(({ path }) => hashes.get(path)));
    return contents.size > 1 ? [{ name, places: read, by: 'content' }] : [];
  });
}
