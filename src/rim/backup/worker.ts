import { parentPort, workerData } from 'node:worker_threads';
import { pageMemory } from '../base/page-memory.ts';
import { SharedPace } from './pace.ts';
import type { Told, Work } from './small-lane.ts';
import { type Hand, publishSmall, readSmall, SMALL, writeSmall } from './small-steps.ts';

/** Entry of a thread that copies small files with synchronous calls: for them a call each through the event loop costs more than the copy. */
const hand: Hand = { memory: pageMemory(SMALL), pace: new SharedPace(workerData as SharedArrayBuffer) };

function work(asked: Work): Told {
  switch (asked.do) {
    case 'write':
      return asked.tasks.map((task) => ({ index: task.index, result: writeSmall(task, hand) }));
    case 'publish':
      return asked.tasks.map(({ task, hash, found }) => ({
        index: task.index,
        result: publishSmall(task, hash, found, hand),
      }));
    case 'read':
      return asked.tasks.map((task) => ({ index: task.index, result: readSmall(task, hand) }));
  }
}

parentPort?.on('message', (asked: Work) => parentPort?.postMessage(work(asked)));
