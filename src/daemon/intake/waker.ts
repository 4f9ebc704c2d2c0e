import type { Clock } from '../../core/ports.ts';

/** A wake-up is never set nearer than this, so that many items due at about the same time share one. */
const coarseMs = 20;

/** So many are woken in one go; the others a moment later, so that the loop gets its turn. */
const atOnce = 500;

export interface Waker<Item> {
  /** Looks up when this item is due now. Cheap: an item that is due later than before costs nothing until then. */
  set(item: Item): void;
  stop(): void;
}

/**
 * One timer for many who want to be woken: a heap by due time, each item in it once. `dueAt` in monotonic seconds;
 * `Infinity` asks for nothing.
 */
export function createWaker<Item>(
  clock: Clock,
  dueAt: (item: Item) => number,
  wake: (item: Item) => void,
): Waker<Item> {
  const heap: { item: Item; at: number }[] = [];
  const queuedAt = new Map<Item, number>();
  let timerAt = Number.POSITIVE_INFINITY;
  let cancel = () => {};

  function set(item: Item): void {
    const at = dueAt(item);
    if (!Number.isFinite(at) || at >= (queuedAt.get(item) ?? Number.POSITIVE_INFINITY)) return;
    queuedAt.set(item, at);
    push(heap, { item, at });
    arm();
  }

  function arm(): void {
    const next = heap[0]?.at ?? Number.POSITIVE_INFINITY;
    if (next >= timerAt) return;
    cancel();
    timerAt = next;
    cancel = clock.after(Math.max(coarseMs, next * 1000 - clock.ticks()), () => {
      timerAt = Number.POSITIVE_INFINITY;
      run(clock.ticks() / 1000);
      arm();
    });
  }

  function run(now: number): void {
    const due: Item[] = [];
    for (let top = heap[0]; top !== undefined && top.at <= now && due.length < atOnce; top = heap[0]) {
      pop(heap);
      // Of an item that was set to an earlier time meanwhile the later place is void.
      if (queuedAt.get(top.item) !== top.at) continue;
      queuedAt.delete(top.item);
      if (dueAt(top.item) <= now) due.push(top.item);
      else set(top.item);
    }
    for (const item of due) wake(item);
  }

  return { set, stop: () => cancel() };
}

type Heap = { at: number }[];

function push<Node extends { at: number }>(heap: Node[], node: Node): void {
  let place = heap.push(node) - 1;
  while (place > 0) {
    const parent = (place - 1) >> 1;
    if (atOf(heap, parent) <= node.at) break;
    swap(heap, place, parent);
    place = parent;
  }
}

/** Takes the first one out. */
function pop<Node extends { at: number }>(heap: Node[]): void {
  swap(heap, 0, heap.length - 1);
  heap.pop();
  for (let place = 0; ; ) {
    const left = 2 * place + 1;
    const child = atOf(heap, left + 1) < atOf(heap, left) ? left + 1 : left;
    if (atOf(heap, child) >= atOf(heap, place)) return;
    swap(heap, place, child);
    place = child;
  }
}

function atOf(heap: Heap, place: number): number {
  return heap[place]?.at ?? Number.POSITIVE_INFINITY;
}

function swap<Node>(heap: Node[], one: number, other: number): void {
  const node = heap[one];
  const second = heap[other];
  if (node === undefined || second === undefined) return;
  heap[one] = second;
  heap[other] = node;
}
