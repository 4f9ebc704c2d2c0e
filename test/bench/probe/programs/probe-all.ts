import { lstatSync, readdirSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { toFileStat } from '../../../../src/rim/base/file-stat.ts';
import { createProber } from '../../../../src/rim/probe/pool.ts';
import { measureLateness } from './lateness.ts';

/** A process of its own: `probe-all.ts FOLDER` holds the pool, has every file probed, and says how late its timers were. */
const [folder] = process.argv.slice(2);
if (folder === undefined) throw new Error('usage: probe-all.ts FOLDER');

const files = readdirSync(folder)
  .sort()
  .map((name) => `${folder}/${name}`)
  .map((path) => ({ path, stat: toFileStat(path, lstatSync(path, { bigint: true })) }));
await sleep(1000);
const stop = measureLateness();
const prober = createProber({ now: () => performance.now() });
const outcomes = await Promise.all(files.map(({ path, stat }) => prober.probe(path, stat)));
const lateness = stop();
await prober.close();
console.log(JSON.stringify({ ...lateness, answered: outcomes.filter(({ ok }) => ok).length, asked: files.length }));
