/** What was asked and not yet answered. */
export class Pending {
  readonly #waiting = new Map<number, PromiseWithResolvers<unknown>>();
  #lastId = 0;

  /** A new question: `send` gets its number. */
  ask<T>(send: (id: number) => void): Promise<T> {
    this.#lastId += 1;
    const waiting = Promise.withResolvers<unknown>();
    this.#waiting.set(this.#lastId, waiting);
    send(this.#lastId);
    return waiting.promise as Promise<T>;
  }

  answer(id: number, value: unknown): void {
    this.#take(id)?.resolve(value);
  }

  refuse(id: number, why: string): void {
    this.#take(id)?.reject(new Error(why));
  }

  refuseAll(why: string): void {
    const error = new Error(why);
    for (const { reject } of this.#waiting.values()) reject(error);
    this.#waiting.clear();
  }

  #take(id: number): PromiseWithResolvers<unknown> | undefined {
    const waiting = this.#waiting.get(id);
    this.#waiting.delete(id);
    return waiting;
  }
}
