import { measureLateness } from './lateness.ts';

/** A process of its own that does nothing until its input ends, and then says how late its timers were. */
const stop = measureLateness();
process.stdin.on('end', () => {
  console.log(JSON.stringify(stop()));
  process.exit(0);
});
process.stdin.resume();
