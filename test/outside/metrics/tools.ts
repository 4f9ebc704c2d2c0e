import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import type { Format } from '../../../src/core/metrics/exposition.ts';

const INSTALL = 'apt-get update && apt-get install -y --no-install-recommends prometheus python3-prometheus-client';

export interface ParsedFamily {
  name: string;
  type: string;
  unit: string;
  help: string;
  samples: { name: string; labels: Record<string, string>; value: number }[];
}

/** What the reference parser reads; fails with its own words where it refuses. */
export function parsed(texts: readonly { format: Format; text: string }[]): ParsedFamily[][] {
  const program = fileURLToPath(new URL('./parse.py', import.meta.url));
  return JSON.parse(told('/usr/bin/python3', [program], JSON.stringify(texts)));
}

/** Runs promtool of Prometheus; fails with its own words. */
export function promtool(args: readonly string[], input = ''): string {
  return told('promtool', args, input);
}

function told(command: string, args: readonly string[], input: string): string {
  const done = spawnSync(command, args, { encoding: 'utf8', input, maxBuffer: 1 << 28 });
  if (done.error !== undefined) throw new Error(`${command} cannot be run (${done.error.message}): ${INSTALL}`);
  if (done.status !== 0) throw new Error(`${command} ${args.join(' ')}: ${done.stdout}${done.stderr} (${INSTALL})`);
  return `${done.stdout}${done.stderr}`;
}
