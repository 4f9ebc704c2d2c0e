import { parentPort, workerData } from 'node:worker_threads';
import { SpareMemory } from '../base/spare-memory.ts';
import { openCommitGroup } from './commit-group.ts';
import { isDamage, packFault } from './damage.ts';
import type { StoreTable } from './method-table.ts';
import { openMethods } from './methods.ts';
import { type OpenState, openState } from './open.ts';
import { CLIP_PAGE, type FromWorker, PAGE, type ToWorker, type WorkerSettings } from './protocol.ts';

/* The store worker: owns the only connection, does one call after the other, in the order in which they were sent. */

/** So long without much to do is rest. */
const REST_MS = 5000;

type Call = Extract<ToWorker, { type: 'call' }>;

if (parentPort !== null) {
  const port = parentPort;
  serve(workerData as WorkerSettings, {
    post: (message) => port.postMessage(message),
    listen: (onMessage) => port.on('message', onMessage),
    end: () => port.close(),
  });
}

interface Port {
  post(message: FromWorker): void;
  listen(onMessage: (message: ToWorker) => void): void;
  end(): void;
}

function serve(settings: WorkerSettings, port: Port): void {
  let state: OpenState | null = null;
  let methods: StoreTable;
  try {
    state = openState(settings);
    methods = openMethods(state);
  } catch (error) {
    state?.close(false);
    port.post({ type: 'refused', failure: packFault(error, settings.stateDir) });
    port.end();
    return;
  }
  const answerer = openAnswerer(state, methods, port);
  port.listen((message) => {
    if (message.type === 'call') answerer.call(message);
    else if (message.type === 'next') answerer.next(message.id);
    else answerer.close();
  });
  port.post({ type: 'opened', notices: state.notices });
}

function openAnswerer(state: OpenState, methods: StoreTable, port: Port) {
  const arriving = new Map<number, unknown[]>();
  const leaving = new Map<number, { list: unknown[]; page: number; at: number }>();
  const group = openCommitGroup(state.database);
  const memory = new SpareMemory(REST_MS, { before: () => state.spare() });
  let damaged = false;

  const next = (id: number, value: unknown = null) => {
    const rest = leaving.get(id) ?? { list: [], page: PAGE, at: 0 };
    const list = rest.list.slice(rest.at, rest.at + rest.page);
    rest.at += rest.page;
    const more = rest.at < rest.list.length;
    if (!more) leaving.delete(id);
    port.post({ type: 'done', id, value, list, more });
  };
  const fail = (id: number, method: Call['method'], error: unknown) => {
    damaged ||= isDamage(error);
    port.post({ type: 'failed', id, failure: packFault(error, pathOf(state, method)) });
  };
  return {
    next: (id: number) => next(id),
    call({ id, method, args, list: page, more }: Call) {
      memory.worked(page.length);
      const list = arriving.get(id)?.concat(page) ?? page;
      arriving.set(id, list);
      if (more) return;
      arriving.delete(id);
      try {
        group.prepare(method);
        // The table's types hold on the other side of the wire, in store.ts.
        const answer = methods[method](args as never, list as never[]);
        group.hold({
          done: () => {
            leaving.set(id, { list: answer.list, page: method === 'clips' ? CLIP_PAGE : PAGE, at: 0 });
            next(id, answer.value);
          },
          failed: (error) => fail(id, method, error),
        });
      } catch (error) {
        group.failed(error);
        fail(id, method, error);
      }
    },
    close() {
      memory.close();
      group.end();
      try {
        state.close(!damaged);
        port.post({ type: 'closed', failure: null });
      } catch (error) {
        port.post({ type: 'closed', failure: packFault(error, state.cataloguePath) });
      }
      port.end();
    },
  };
}

const OF_LEDGER: ReadonlySet<Call['method']> = new Set([
  'condition',
  'advisories',
  'putAdvisories',
  'resumeMessages',
  'nextMessage',
  'beginMessage',
  'endMessage',
  'reportsOf',
  'beginReports',
  'putReport',
  'endedRuns',
  'putEndedRun',
  'news',
  'putNews',
  'inventoryHeads',
  'inventoryFiles',
  'putInventory',
  'dropInventory',
  'inventoryLists',
  'inventoryListFiles',
  'putInventoryList',
  'cardNotes',
  'putCardNote',
]);

function pathOf(state: OpenState, method: Call['method']): string {
  return OF_LEDGER.has(method) ? state.ledgerPath : state.cataloguePath;
}
