import { lstatSync, readdirSync } from 'node:fs';
import { toFileStat } from '../../../../src/rim/base/file-stat.ts';
import { createProber } from '../../../../src/rim/probe/pool.ts';

/** What the process holds after so many probes, in bytes, right after a collection. */
export interface Held {
  probes: number;
  heap: number;
  resident: number;
}

/** A process of its own: `hold-pool.ts FOLDER COUNT` makes so many probes of the files there, and weighs itself meanwhile. */
const [folder, count] = process.argv.slice(2);
const { gc } = globalThis;
if (folder === undefined || gc === undefined) throw new Error('usage: node --expose-gc hold-pool.ts FOLDER COUNT');

const BATCH = 200;
const files = readdirSync(folder).map((name) => `${folder}/${name}`);
const prober = createProber({ now: () => performance.now() });
const rows: Held[] = [];
for (let probes = 0; probes < Number(count); probes += BATCH) {
  const batch = Array.from({ length: BATCH }, (_, at) => files[(probes + at) % files.length] ?? '');
  const asked = batch.map((path) => prober.probe(path, toFileStat(path, lstatSync(path, { bigint: true }))));
  if ((await Promise.all(asked)).some(({ ok }) => !ok)) throw new Error('a clip could not be probed');
  await gc({ type: 'major', execution: 'async' });
  rows.push({
    probes: probes + BATCH,
    heap: process.memoryUsage().heapUsed,
    resident: process.memoryUsage.rss(),
  });
}
await prober.close();
console.log(JSON.stringify(rows));
