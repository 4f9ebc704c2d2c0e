import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Log } from '../core/ports.ts';
import { frame } from '../core/present/screen-frame.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { statusScreen } from '../core/present/status-screen.ts';
import { shorten } from '../core/present/text.ts';
import { formatBytes, formatCount, formatRate } from '../core/units.ts';
import { type Daemon, startDaemon } from '../daemon/compose.ts';
import { settingsForFolders } from '../settings/folders.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { demoProject, playShoot, shootSeconds } from './demo-shoot.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { version } from './version.ts';

/** What the demo's volume is said to read, bytes per second. Its clips are small, so its budget is. */
const inventedReadBps = 530_000;

const redrawMs = 1_000;

/** `headroomd demo`: a real daemon on a temporary folder, a scripted shoot, and what the daemon says about it. */
export async function demoVerb(io: CliIo, { once = false }: { once?: boolean }): Promise<number> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-demo-'));
  const ended = new AbortController();
  const onSignal = () => ended.abort();
  process.on('SIGINT', onSignal);
  process.on('SIGTERM', onSignal);
  try {
    return await play(io, folder, once, ended);
  } finally {
    process.off('SIGINT', onSignal);
    process.off('SIGTERM', onSignal);
    rmSync(folder, { recursive: true, force: true });
    io.out(`\nThe demo's folder ${folder} is removed.\n`);
  }
}

async function play(io: CliIo, folder: string, once: boolean, ended: AbortController): Promise<number> {
  const volume = join(folder, 'stripe');
  mkdirSync(join(volume, demoProject), { recursive: true });
  const said: string[] = [];
  const daemon = await startDaemon({
    settings: demoSettings(volume),
    stateDir: join(folder, 'state'),
    version,
    zone: io.zone,
    invented: true,
    log: talkative(said),
    ruleTold: () => {},
  });
  const screen = createScreen(io, volume, daemon, said);
  try {
    const shoot = playShoot(volume, (what) => said.push(`> ${what}`), ended.signal);
    await Promise.all([shoot, showFor(shootSeconds, screen, ended.signal)]);
    if (!once) await showFor(Number.POSITIVE_INFINITY, screen, ended.signal);
    io.out(summary(daemon.snapshot(), said));
    return isAsScripted(daemon.snapshot()) ? exitCodes.ok : exitCodes.failed;
  } catch (error) {
    if (!ended.signal.aborted) throw error;
    io.out(summary(daemon.snapshot(), said));
    return exitCodes.ok;
  } finally {
    await daemon.stop();
  }
}

/** The usual settings, with an invented budget and shorter waits: a person who watches will not wait ten minutes. */
function demoSettings(volume: string): FullSettings {
  const settings = settingsForFolders([volume]);
  return {
    ...settings,
    volumes: settings.volumes.map((one) => ({
      ...one,
      projects: '*',
      reserve: { bytes: 0 },
      multicam: ['Tidewater Sessions'],
      speed: { readBps: inventedReadBps, writeBps: inventedReadBps },
    })),
    arrivals: { ...settings.arrivals, stalledAfter: 8 },
    // A real card in this machine is no part of the show.
    cards: { ...settings.cards, look: false },
    thresholds: { ...settings.thresholds, raiseAfter: 2, clearAfter: 2 },
    page: { enabled: true, port: 0, metrics: false },
  };
}

/** The daemon's log, as lines beside the screen: what it announces and what it takes in. */
function talkative(said: string[]): Log {
  const keep = (_fields: object, message: string) => void said.push(message);
  return { debug: () => {}, info: keep, warn: keep, error: keep };
}

/** On a terminal one screen that is drawn again and again; otherwise each happening as a line. */
function createScreen(io: CliIo, volume: string, daemon: Daemon, said: readonly string[]): () => void {
  let told = 0;
  return () => {
    const fresh = said.slice(told);
    told = said.length;
    if (!io.redraws) {
      for (const line of fresh) io.out(`${line}\n`);
      return;
    }
    const status = statusScreen(daemon.snapshot(), {
      width: Math.min(80, io.columns),
      rows: io.rows === null ? null : io.rows - 13,
      old: null,
    });
    const lately = said.slice(-6).map((line) => shorten(line, Math.max(20, io.columns - 2)));
    // What happens stands above: on a small screen it is the end that is left out.
    const text = `${heading(volume)}\nLately:\n${lately.map((line) => `  ${line}\n`).join('')}\n${status}`;
    io.out(frame(text, { columns: io.columns, rows: (io.rows ?? 24) - 1 }));
  };
}

function heading(volume: string): string {
  return [
    'DEMO. An invented concert on five cameras arrives, as card copies do, on',
    volume,
    `Its speed of ${formatRate(inventedReadBps)} is invented for the demo: the clips are small.`,
    '',
  ].join('\n');
}

async function showFor(seconds: number, screen: () => void, signal: AbortSignal): Promise<void> {
  const end = performance.now() + seconds * 1000;
  while (performance.now() < end) {
    screen();
    await sleep(redrawMs, undefined, { signal });
  }
  screen();
}

/** Five clips, one group of five angles, nothing left on its way, and the fifth angle too much for the invented speed. */
function isAsScripted({ advisories, arrivals, projects }: Snapshot): boolean {
  const [project] = projects;
  return (
    project?.clips === 5 &&
    project.multicam.some(({ angles }) => angles === 5) &&
    arrivals.every(({ state }) => state === 'ready') &&
    advisories.map(({ kind }) => kind).join() === 'speed-overrun'
  );
}

function summary({ advisories, projects, volumes }: Snapshot, said: readonly string[]): string {
  const [project] = projects;
  const [volume] = volumes;
  const group = project?.multicam[0];
  const announced = said.filter((line) => !line.startsWith('> ') && !line.startsWith('Ready: ')).slice(-8);
  return [
    '\nSummary of the demo (its volume speed is invented):\n',
    project === undefined
      ? '  Nothing has arrived.\n'
      : `  ${project.name}: ${formatCount(project.clips, 'clip')}, ${formatBytes(project.bytes)}.\n`,
    group === undefined
      ? ''
      : `  Multicam: ${formatCount(group.angles, 'angle')} at once (cameras ${group.cameras.join(', ')}), ${formatRate(group.peakBps)} at the peak.\n`,
    volume?.speed.readBudgetBps == null
      ? ''
      : `  Of its invented speed ${formatRate(volume.speed.readBudgetBps)} may be asked for, after the reserve.\n`,
    `  Said on the way:\n${announced.map((line) => `    ${line}\n`).join('')}`,
    `  Standing at the end: ${advisories.length === 0 ? 'nothing' : advisories.map(({ message }) => message).join(' ')}\n`,
  ].join('');
}
