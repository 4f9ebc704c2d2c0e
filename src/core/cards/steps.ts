/** Files that are dealt with between two pauses. */
const STEP_FILES = 512;

/** Work that can pause after each step; its result at the end. */
export type Steps<Result> = Generator<void, Result>;

/** Without pauses. */
export function finish<Result>(steps: Steps<Result>): Result {
  for (;;) {
    const step = steps.next();
    if (step.done === true) return step.value;
  }
}

/** `map`, with a pause now and then. */
export function* mapped<Item, Result>(
  items: readonly Item[],
  of: (item: Item, index: number) => Result,
): Steps<Result[]> {
  const results: Result[] = [];
  for (const [index, item] of items.entries()) {
    results.push(of(item, index));
    if (index % STEP_FILES === STEP_FILES - 1) yield;
  }
  return results;
}
