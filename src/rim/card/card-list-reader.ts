import type { CardListOutcome, CardListPort, CardRoot, ListOnCard } from '../../core/cards/inventory-list.ts';
import { type Asked, startAsking } from '../base/ask-process.ts';
import type { CardListOrder } from './read-list.ts';

/** A list of many files takes seconds, on a slow reader a minute. */
const PATIENCE_MS = 120_000;

/** At most so many processes at a time, those that hang and cannot be ended among them; of one card there is one at most. */
const AT_A_TIME = 4;

export interface CardListReaderOptions {
  /** The program of the process: a `.ts` file that answers a `CardListOrder`. */
  entry: string;
  ask?: (entry: string, order: CardListOrder, withinMs: number) => Asked;
  withinMs?: number;
}

interface Job {
  order: CardListOrder;
  done: (outcome: CardListOutcome) => void;
}

interface Running {
  mountPoint: string;
  /** Nobody waits for it any more, and it is still there. */
  isLeft: boolean;
  abandon: () => void;
}

export interface CardListReader extends CardListPort {
  stop(): void;
}

/** Reads lists on cards, one after the other on each: a reader that hangs costs one process, and no other card its turn. */
export function createCardListReader({
  entry,
  ask = startAsking,
  withinMs = PATIENCE_MS,
}: CardListReaderOptions): CardListReader {
  let waiting: Job[] = [];
  const running = new Set<Running>();

  function next(): void {
    const jobs = waiting;
    waiting = [];
    for (const job of jobs) {
      const own = [...running].find(({ mountPoint }) => mountPoint === job.order.card.mountPoint);
      const isFull = running.size >= AT_A_TIME;
      // Who waits for what may never end, waits for ever.
      if (own?.isLeft === true || (isFull && running.values().every(({ isLeft }) => isLeft))) job.done(HANGS);
      else if (own !== undefined || isFull) waiting.push(job);
      else void run(job);
    }
  }

  async function run({ order, done }: Job): Promise<void> {
    const asked = ask(entry, order, withinMs);
    const one: Running = { mountPoint: order.card.mountPoint, isLeft: false, abandon: asked.abandon };
    running.add(one);
    void asked.gone.then(() => {
      running.delete(one);
      next();
    });
    const told = (await asked.answer) as CardListOutcome | null;
    one.isLeft = told === null;
    done(told ?? NO_ANSWER);
    next();
  }

  return {
    read: (card: CardRoot, list: ListOnCard) =>
      new Promise((done) => {
        waiting.push({ order: { card, list }, done });
        next();
      }),
    stop() {
      for (const { done } of waiting.splice(0)) done(NO_ANSWER);
      for (const { abandon } of running) abandon();
    },
  };
}

const NO_ANSWER: CardListOutcome = { is: 'unread', detail: 'the card gave no answer' };
const HANGS: CardListOutcome = { is: 'unread', detail: 'the card still gives no answer to an earlier reading' };
