import { writeFileSync } from 'node:fs';
import { type RequestOptions, request } from 'node:http';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Bench, Running } from './headroomd.ts';

export interface Answer {
  status: number;
  type: string;
  body: string;
}

/** Over the page's port, without its token. */
export function get(daemon: Running, path: string, accept = '*/*'): Promise<Answer> {
  const page = new URL(daemon.status().page ?? '');
  return ask({ host: page.hostname, port: Number(page.port), path, headers: { accept } });
}

export function ask(how: RequestOptions): Promise<Answer> {
  return new Promise((resolve, reject) => {
    // A connection of its own: one that is kept is closed while these tests wait for programs without an event loop.
    const asked = request({ ...how, agent: false }, (response) => {
      let body = '';
      response.setEncoding('utf8').on('data', (chunk) => {
        body += chunk;
      });
      response.on('end', () =>
        resolve({ status: response.statusCode ?? 0, type: response.headers['content-type'] ?? '', body }),
      );
    });
    asked.on('error', reject);
    asked.end();
  });
}

/** Looks until something is found that is not `null`. */
export async function found<Found>(what: string, look: () => Promise<Found | null>, seconds = 40): Promise<Found> {
  const end = performance.now() + seconds * 1000;
  for (;;) {
    const one = await look();
    if (one !== null) return one;
    if (performance.now() > end) throw new Error(`not within ${seconds} s: ${what}`);
    await sleep(100);
  }
}

/** A configuration of one volume, and whose `[page]` holds this line. */
export function configuration(place: Bench, page: string, more = '', path = place.volume): string {
  const config = join(place.folder, 'headroomd.toml');
  const volume = `[[volume]]\nname = "stripe"\npath = "${path}"\nprojects = "*"\n`;
  const speed = 'speed = { read = "1700 MB/s", write = "1500 MB/s" }\n';
  writeFileSync(config, `${volume}${speed}${more}[cards]\nlook = false\n[page]\n${page}\n`);
  return config;
}
