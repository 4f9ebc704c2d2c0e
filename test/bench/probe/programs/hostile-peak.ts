import { lstatSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { toFileStat } from '../../../../src/rim/base/file-stat.ts';
import { createProber } from '../../../../src/rim/probe/pool.ts';

/** Resident bytes: of the process with a pool that has nothing to do, and the most it ever had. */
export interface Peak {
  idle: number;
  peak: number;
  answered: number;
  asked: number;
}

/** A process of its own: `hostile-peak.ts FOLDER` has every file there probed, in the order of their names. */
const [folder] = process.argv.slice(2);
const { gc } = globalThis;
if (folder === undefined || gc === undefined) throw new Error('usage: node --expose-gc hostile-peak.ts FOLDER');

const prober = createProber({ now: () => performance.now() });
await gc({ type: 'major', execution: 'async' });
await sleep(1000);
const idle = process.memoryUsage.rss();
// proc(5): 5 sets the high-water mark back to what is resident now.
writeFileSync('/proc/self/clear_refs', '5');
const files = readdirSync(folder)
  .sort()
  .map((name) => `${folder}/${name}`);
const asked = files.map((path) => prober.probe(path, toFileStat(path, lstatSync(path, { bigint: true }))));
const answered = (await Promise.all(asked)).filter(({ ok }) => ok).length;
const highest = /^VmHWM:\s+(\d+) kB/m.exec(readFileSync('/proc/self/status', 'utf8'))?.[1];
await prober.close();
console.log(JSON.stringify({ idle, peak: Number(highest) * 1024, answered, asked: files.length } satisfies Peak));
