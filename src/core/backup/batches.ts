/** Files that go through all steps together: one flush, and one commit of the ledger for all of them. */
const MOST_FILES = 2048;
const MOST_BYTES = 1024 ** 3;

/** Files in batches of at most 2048 or 1 GiB, whichever comes first; a larger file is a batch of its own. */
export async function* batchesOf<T>(
  items: Iterable<T> | AsyncIterable<T>,
  sizeOf: (item: T) => number,
): AsyncGenerator<T[]> {
  let batch: T[] = [];
  let bytes = 0;
  for await (const item of items) {
    const size = sizeOf(item);
    if (batch.length > 0 && (batch.length === MOST_FILES || bytes + size > MOST_BYTES)) {
      yield batch;
      [batch, bytes] = [[], 0];
    }
    batch.push(item);
    bytes += size;
  }
  if (batch.length > 0) yield batch;
}
