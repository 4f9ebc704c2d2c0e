import type { InventoryFile } from '../../core/cards/inventory.ts';
import type { Clock } from '../../core/ports.ts';
import { type CardProcess, type StartCardProcess, startCardProcess } from './card-process.ts';
import type { CardLook, CardMount, CardReading, FromCard } from './protocol.ts';

/** A process that says nothing for so long hangs on its reader. */
const SILENT_MS = 20_000;

/** At most so many processes at a time, those that hang and cannot be killed among them. */
const AT_A_TIME = 2;

export interface CardReaderOptions {
  /** The program of a card's process: a `.ts` file that calls `serveCard`. */
  entry: string;
  clock: Clock;
  start?: StartCardProcess;
}

export interface CardReader {
  /** Looks at a mount as soon as there is a process free for it. Never rejects. */
  look(mount: CardMount): Promise<CardLook>;
  stop(): void;
}

interface Job {
  mount: CardMount;
  done: (look: CardLook) => void;
}

/** Looks at cards, each in a process of its own, so that a reader that hangs costs one process and nothing else. */
export function createCardReader({ entry, clock, start = startCardProcess }: CardReaderOptions): CardReader {
  const waiting: Job[] = [];
  const running = new Set<CardProcess>();
  let stopped = false;

  function next(): void {
    if (stopped || running.size >= AT_A_TIME) return;
    const job = waiting.shift();
    if (job !== undefined) run(job);
  }

  function run({ mount, done }: Job): void {
    const started = start(entry, mount);
    running.add(started);
    const told = collector();
    let cancel = (): void => {};
    const end = (look: CardLook): void => {
      cancel();
      cancel = () => {};
      done(look);
    };
    const expectLife = (): void => {
      cancel();
      cancel = clock.after(SILENT_MS, () => {
        started.abandon();
        end(told.brokenOff(`it gave no answer for ${SILENT_MS / 1000} s`));
      });
    };
    started.onMessage((message) => {
      expectLife();
      const look = told.take(message);
      if (look !== null) end(look);
    });
    started.onExit((how) => {
      running.delete(started);
      end(told.brokenOff(`the process that read it ${how}`));
      next();
    });
    expectLife();
  }

  return {
    look(mount) {
      return new Promise((done) => {
        if (stopped) return done({ is: 'unknown', why: 'headroomd is stopping' });
        waiting.push({ mount, done });
        next();
      });
    },
    stop() {
      stopped = true;
      for (const { done } of waiting.splice(0)) done({ is: 'unknown', why: 'headroomd is stopping' });
      for (const one of running) one.abandon();
    },
  };
}

interface Collector {
  /** The outcome, when this message is the last. */
  take(message: FromCard): CardLook | null;
  /** What is known when no further message comes. */
  brokenOff(why: string): CardLook;
}

function collector(): Collector {
  let card: Pick<CardReading, 'layout' | 'name' | 'key' | 'device' | 'ino'> | null = null;
  let lists: CardReading['lists'] = [];
  const files: InventoryFile[] = [];

  function outcome(gap: string | null): CardLook {
    if (card === null) return { is: 'unknown', why: gap ?? 'it was not recognised' };
    return { is: 'card', reading: { ...card, files: files.sort(byPath), lists, gap } };
  }

  return {
    take(message) {
      switch (message.type) {
        case 'progress':
          return null;
        case 'recognised':
          card = {
            layout: message.layout,
            name: message.name,
            key: message.key,
            device: message.device,
            ino: message.ino,
          };
          return null;
        case 'files':
          for (const file of message.files) files.push(file);
          return null;
        case 'end':
          if (message.is === 'no-card') return { is: 'no-card', empty: message.empty };
          if (message.is === 'card') lists = message.lists;
          // Of a card that broke off after it was recognised, what came so far is kept.
          return outcome(message.is === 'card' ? message.gap : message.why);
      }
    },
    brokenOff: outcome,
  };
}

/** By code units: the same in every place and language. */
function byPath(one: InventoryFile, other: InventoryFile): number {
  return one.path < other.path ? -1 : Number(one.path > other.path);
}
