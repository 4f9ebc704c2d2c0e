import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, expect, test } from 'vitest';
import { metricsAnswer } from '../../../src/core/metrics/metrics.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { metricsSource } from '../../core/metrics/exposed.ts';
import { ADVISORY, CONTEXT } from '../../core/present/hostile.ts';
import { sampleAssessment, sampleVolume } from '../../core/samples.ts';

/* Outside: Prometheus itself, from Debian, asks what a workstation tells and makes the page of it. */

const templates = fileURLToPath(new URL('../../../config/metrics', import.meta.url));
const HOSTILE = 'a"b\\c<script>d';
const undo: (() => Promise<void> | void)[] = [];
afterEach(async () => {
  for (const one of undo.splice(0).reverse()) await one();
});

function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const port = portOf(server);
      server.close(() => resolve(port));
    });
  });
}

function portOf(server: Server): number {
  const address = server.address();
  return typeof address === 'object' && address !== null ? address.port : 0;
}

async function workstation(): Promise<number> {
  const volumes = [sampleVolume(), sampleVolume({ name: HOSTILE, capacity: null, safety: null })];
  const source = metricsSource({ snapshot: snapshot(sampleAssessment({ volumes }), [ADVISORY], CONTEXT) });
  const server = createServer((request, response) => {
    const { body, type } = metricsAnswer(source, request.headers.accept);
    response.writeHead(200, { 'content-type': type }).end(body);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  undo.push(
    () => void server.close(),
    () => server.closeAllConnections(),
  );
  return portOf(server);
}

/** What the page says, once a workstation was asked. */
async function consoleOf(targets: Record<string, number>): Promise<string> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-console-'));
  undo.push(() => rmSync(folder, { recursive: true, force: true }));
  const configs = Object.entries(targets).map(
    ([name, port]) => `      - targets: ["127.0.0.1:${port}"]\n        labels: { workstation: ${name} }\n`,
  );
  const config = join(folder, 'prometheus.yml');
  writeFileSync(
    config,
    `global: { scrape_interval: 1s }\nscrape_configs:\n  - job_name: headroomd\n    static_configs:\n${configs.join('')}`,
  );
  const port = await freePort();
  const args = [
    '--config.file',
    config,
    '--storage.tsdb.path',
    join(folder, 'data'),
    '--web.console.templates',
    templates,
  ];
  const collector = spawn('prometheus', [...args, '--web.listen-address', `127.0.0.1:${port}`], { stdio: 'ignore' });
  undo.push(() => ended(collector));
  for (let tries = 0; tries < 300; tries++) {
    const answer = await fetch(`http://127.0.0.1:${port}/consoles/headroomd.html`).catch(() => null);
    const page = answer === null ? '' : await answer.text();
    if (answer !== null && (answer.status !== 200 || isWhole(page))) return page;
    await sleep(200);
  }
  throw new Error('no figures came within a minute');
}

/** Each workstation was asked once. */
function isWhole(page: string): boolean {
  return page.includes('speed-overrun') && page.includes('does not answer');
}

async function ended(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill('SIGTERM');
  await new Promise((resolve) => child.once('exit', resolve));
}

test('all workstations are on one page: what is to be known, and each volume with its headrooms', async () => {
  const page = await consoleOf({ 'edit-1': await workstation(), 'edit-2': await freePort() });
  const rows = [...page.matchAll(/<tr>(.*?)<\/tr>/gs)].map(([, row = '']) =>
    row
      .replace(/<[^>]*>/g, ' ')
      .replace(/\s+/g, ' ')
      .trim(),
  );
  expect(rows).toContain('edit-1 speed-overrun warning 1');
  expect(rows).toContain('edit-2 headroomd does not answer');
  // 300 of 420 MB/s are needed; 600 GB until the reserve.
  expect(rows).toContain('edit-1 stripe live 28.57% 600GB not known 0B never, as far as is known');
  const other = rows.find((row) => row.startsWith('edit-1 a'));
  expect(other).toMatch(/ live 28\.57% not known not known not known never, as far as is known$/);
  // A name is text, on the page and in what is asked.
  expect(page).not.toContain('<script>');
  expect(page).not.toMatch(/error executing|parse error/i);
});
