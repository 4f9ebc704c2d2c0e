import { remoteRoot } from '../../../src/rim/watch/remote-root.ts';
import { clock, ENTRY, silent } from './watched.ts';

/** A parent that is killed: starts a root's process on the given folder and prints its id once it is live. */
const root = remoteRoot({
  root: process.argv[2] ?? '/',
  settings: { sweepEvery: 10, fullSweepEvery: 900 },
  entry: ENTRY,
  clock,
  log: silent,
});
root.start((event) => {
  if (event.type === 'swept') process.stdout.write(`${root.pid}\n`);
});
