/** Lets one thing at a time touch the shelves: backups in the order in which they come, and what gives way to them when none wants to. */
export interface Lane {
  /** Begins when those before it are through; what gives way is asked to stop. */
  first(work: () => Promise<void>): Promise<void>;
  /**
   * Begins when no backup goes on or waits, and is begun again when it had to stop for one (its signal). `work` says whether it is through.
   * Several that give way go one after the other.
   */
  givingWay(work: (signal: AbortSignal) => Promise<boolean>): Promise<void>;
}

export function createLane(): Lane {
  let wanting = 0;
  let line: Promise<void> = Promise.resolve();
  let aside: Promise<void> = Promise.resolve();
  let stepAside = (): void => {};
  let current: Promise<unknown> = Promise.resolve();

  async function untilThrough(work: (signal: AbortSignal) => Promise<boolean>): Promise<void> {
    for (let isThrough = false; !isThrough; ) {
      while (wanting > 0) await line;
      const control = new AbortController();
      stepAside = () => control.abort();
      const attempt = work(control.signal);
      current = attempt.catch(() => {});
      isThrough = await attempt;
    }
  }

  return {
    first(work) {
      wanting += 1;
      stepAside();
      const turn = line
        .then(() => current)
        .then(work)
        .finally(() => {
          wanting -= 1;
        });
      line = turn.catch(() => {});
      return turn;
    },
    givingWay(work) {
      const turn = aside.then(() => untilThrough(work));
      aside = turn.catch(() => {});
      return turn;
    },
  };
}
