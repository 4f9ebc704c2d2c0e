import type { Worker } from 'node:worker_threads';
import { StoreFault, unpackFault } from './damage.ts';
import type { Answer } from './method-table.ts';
import {
  type FromWorker,
  type MethodName,
  PAGE,
  type StoreMethods,
  type StoreNotice,
  type ToWorker,
} from './protocol.ts';

/** Files looked up in one call: some 20 ms of the worker's time. */
export const LOOKED_UP = 1000;

/** Hears of every call, and of every sign of the worker's that it is at them. */
export interface CallsMark {
  begins(): void;
  moved(): void;
  ends(): void;
}

interface Pending {
  value: unknown;
  list: unknown[];
  resolve(answer: Answer<unknown, unknown>): void;
  reject(fault: StoreFault): void;
}

type Part<Name extends MethodName, Field extends keyof StoreMethods[Name]> = StoreMethods[Name][Field];

/** The main thread's end of the wire to the store worker: sends calls in order and hands answers to who waits for them. */
export class WorkerCalls {
  readonly #worker: Worker;
  readonly #pending = new Map<number, Pending>();
  readonly #onDeath: (fault: StoreFault) => void;
  readonly #worked: (items: number) => void;
  readonly #mark: CallsMark | undefined;
  readonly #opened = Promise.withResolvers<StoreNotice[]>();
  readonly #exited = Promise.withResolvers<void>();
  /** Lists of several pages, sent one after the other; while one is on its way nothing may overtake it. */
  #line: Promise<void> = Promise.resolve();
  #waitingInLine = 0;
  #lastId = 0;
  #ended: StoreFault | null = null;
  #closing: PromiseWithResolvers<void> | null = null;
  #closedOrderly = false;

  /** `onDeath` hears of a worker that ended without being asked to, `worked` of every call with so many records. */
  constructor(
    worker: Worker,
    onDeath: (fault: StoreFault) => void,
    worked: (items: number) => void,
    mark?: CallsMark | undefined,
  ) {
    this.#worker = worker;
    this.#onDeath = onDeath;
    this.#worked = worked;
    this.#mark = mark;
    worker.on('message', (message: FromWorker) => this.#receive(message));
    worker.on('error', (error) => this.#end(error instanceof Error ? error : new Error(String(error))));
    worker.on('exit', (code) => {
      this.#end(new Error(`it exited with code ${code}`));
      this.#exited.resolve();
    });
    // Who never asks must not be ended by it; who asks gets the same fault.
    this.#opened.promise.catch(() => {});
  }

  /** What was found while opening. Rejects with the fault that kept the store from opening. */
  opened(): Promise<StoreNotice[]> {
    return this.#opened.promise;
  }

  call<Name extends MethodName>(
    method: Name,
    args: Part<Name, 'args'>,
    list: readonly Part<Name, 'item'>[] = [],
  ): Promise<Answer<Part<Name, 'value'>, Part<Name, 'listed'>>> {
    if (this.#ended !== null) return Promise.reject(this.#ended);
    if (this.#closing !== null) return Promise.reject(closedFault());
    this.#lastId += 1;
    const id = this.#lastId;
    const waiting = Promise.withResolvers<Answer<unknown, unknown>>();
    this.#pending.set(id, { value: null, list: [], resolve: waiting.resolve, reject: waiting.reject });
    this.#worked(list.length);
    this.#mark?.begins();
    this.#send(id, method, args, list);
    return waiting.promise as Promise<Answer<Part<Name, 'value'>, Part<Name, 'listed'>>>;
  }

  /** Lets the calls under way end, writes everything back and ends the worker. */
  async close(): Promise<void> {
    if (this.#closing === null) {
      this.#closing = Promise.withResolvers<void>();
      this.#closing.promise.catch(() => {});
      if (this.#ended !== null) this.#closing.reject(this.#ended);
      this.#closeWhenIdle();
    }
    await this.#closing.promise;
    await this.#exited.promise;
  }

  #closeWhenIdle(): void {
    if (this.#closing !== null && this.#pending.size === 0 && this.#ended === null) this.#post({ type: 'close' });
  }

  /** What fits one message goes at once, so that the caller may change its list afterwards. */
  #send(id: number, method: MethodName, args: unknown, list: readonly unknown[]): void {
    if (this.#waitingInLine === 0 && list.length <= PAGE) {
      this.#sendPage(id, method, args, list, 0);
      return;
    }
    const copy = [...list];
    this.#waitingInLine += 1;
    this.#line = this.#line.then(async () => {
      for (let from = 0; this.#pending.has(id) && this.#sendPage(id, method, args, copy, from); from += PAGE) {
        await new Promise<void>((resolve) => setImmediate(resolve));
      }
      this.#waitingInLine -= 1;
    });
  }

  /** Whether more pages follow. */
  #sendPage(id: number, method: MethodName, args: unknown, list: readonly unknown[], from: number): boolean {
    const more = from + PAGE < list.length;
    try {
      this.#post({ type: 'call', id, method, args, list: list.slice(from, from + PAGE), more });
    } catch (error) {
      this.#take(id)?.reject(new StoreFault('failed', `A call of the store cannot be sent (${error}).`, error));
    }
    return more;
  }

  #post(message: ToWorker): void {
    this.#worker.postMessage(message);
  }

  #receive(message: FromWorker): void {
    this.#mark?.moved();
    if (message.type === 'opened') this.#opened.resolve(message.notices);
    else if (message.type === 'refused') this.#ended = unpackFault(message.failure);
    else if (message.type === 'failed') this.#take(message.id)?.reject(unpackFault(message.failure));
    else if (message.type === 'done') this.#answer(message);
    else {
      this.#closedOrderly = true;
      if (message.failure === null) this.#closing?.resolve();
      else this.#closing?.reject(unpackFault(message.failure));
    }
  }

  #answer({ id, value, list, more }: Extract<FromWorker, { type: 'done' }>): void {
    const pending = this.#pending.get(id);
    if (pending === undefined) return;
    pending.value ??= value;
    if (pending.list.length === 0) pending.list = list;
    else for (const item of list) pending.list.push(item);
    // Not at once: the loop gets its turn between two pages.
    if (more) setImmediate(() => this.#post({ type: 'next', id }));
    else this.#take(id)?.resolve(pending);
  }

  #take(id: number): Pending | undefined {
    const pending = this.#pending.get(id);
    if (this.#pending.delete(id)) this.#mark?.ends();
    this.#closeWhenIdle();
    return pending;
  }

  /** The worker is gone: nobody waits for ever. */
  #end(cause: Error): void {
    const refused = this.#ended;
    const died = `The store worker ended unexpectedly (${cause.message}). Start headroomd again: it checks its databases.`;
    const fault = refused ?? (this.#closedOrderly ? closedFault() : new StoreFault('failed', died, cause));
    this.#ended = fault;
    this.#opened.reject(fault);
    this.#closing?.reject(fault);
    for (const id of [...this.#pending.keys()]) this.#take(id)?.reject(fault);
    if (refused === null && !this.#closedOrderly) this.#onDeath(fault);
  }
}

function closedFault(): StoreFault {
  return new StoreFault('failed', 'The store is closed.');
}
