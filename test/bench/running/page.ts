import { get } from 'node:http';
import { HOUR_MS, MINUTE_MS, type VolumeMoment } from '../../../src/core/assess/moments.ts';
import { openStore } from '../../../src/rim/store/store.ts';
import { cookieName } from '../../../src/rim/web/routes.ts';
import { type Figure, median } from '../figure.ts';
import { type Daemon, whenTrue } from '../intake/daemon.ts';
import type { Ground } from '../intake/ground.ts';
import { checkKnown } from '../intake/ground.ts';
import { clipCount, hundredThousandClips } from '../intake/tree.ts';

const VOLUME = 'stripe';
const YEARS = 3;
const TIMES = 30;
/** What is between asking and a page that can be drawn; the browser's part is measured in the browser's test. */
const VIEW_MS = 200;
const READY_S = 2;

/** The page with 100,000 clips and three years of history, beside that of a daemon whose volume is empty. */
export async function measurePage(ground: Ground): Promise<Figure[]> {
  const daemon = await ground.knowing(hundredThousandClips, seedYears);
  const ready = await secondsUntilReady(daemon);
  await daemon.swept();
  await checkKnown(daemon, hundredThousandClips);
  const idle = await ground.idle();
  await idle.swept();
  const [project] = (await daemon.snapshot())?.projects ?? [];
  const formats = `/api/formats?volume=${VOLUME}&project=${encodeURIComponent(project?.name ?? '')}`;
  const many = `${clipCount(hundredThousandClips)} clips, ${YEARS} years`;
  const figures: Figure[] = [
    {
      name: `${many}: from start to ready`,
      value: ready,
      unit: 's',
      peer: null,
      goal: `<= ${READY_S} s`,
      holds: ready <= READY_S,
    },
  ];
  for (const [name, path, goal] of [
    ['first view', '/', VIEW_MS],
    ['what plots draw', '/api/plots', null],
    ['snapshot', '/api/snapshot', null],
    ['days and formats of one project', formats, null],
  ] as const) {
    const [ours, empty] = [await msOf(daemon, path), path === formats ? null : await msOf(idle, path)];
    figures.push({
      ...{ name: `${many}: ${name}`, value: ours, unit: 'ms' },
      peer: empty === null ? null : { name: 'with an empty volume', value: empty },
      ...{ goal: goal === null ? null : `<= ${goal} ms`, holds: goal === null ? null : ours <= goal },
    });
  }
  await daemon.end();
  await idle.end();
  return figures;
}

/** As years leave it: an hour each, and the last two days by the minute. */
async function seedYears(stateDir: string): Promise<void> {
  const log = { debug() {}, info() {}, warn() {}, error() {} };
  const store = await openStore({ stateDir, now: Date.now, log });
  try {
    const now = Math.floor(Date.now() / HOUR_MS) * HOUR_MS;
    const hours = Array.from({ length: YEARS * 8766 }, (_, hour) => momentAt(now - (YEARS * 8766 - hour) * HOUR_MS));
    const minutes = Array.from({ length: 2880 }, (_, minute) => momentAt(now - (2880 - minute) * MINUTE_MS));
    await store.ledger.putMoments(VOLUME, 'hour', hours, null);
    await store.ledger.putMoments(VOLUME, 'minute', minutes, null);
  } finally {
    await store.close();
  }
}

function momentAt(at: number): VolumeMoment {
  return {
    ...{
      at,
      needBps: 4e8,
      needFor: '5 angles of Tidewater Sessions',
      budgetBps: 1.2e9,
      givenBps: at % 1e9,
      peakBps: 1e9,
    },
    ...{ usedBytes: 5e12, roomEndBytes: 7e12, exposedBytes: at % 1e12, verifiedAt: at - (at % (24 * HOUR_MS)) },
  };
}

async function secondsUntilReady(daemon: Daemon): Promise<number> {
  await whenTrue('it is ready', async () => (await daemon.snapshot())?.volumes[0]?.state === 'live', { seconds: 60 });
  return (performance.now() - daemon.startedAt) / 1000;
}

/** Of some times in a row, the middle, each over a connection of its own. */
async function msOf(daemon: Daemon, path: string): Promise<number> {
  const page = (await daemon.snapshot())?.page;
  if (page == null) throw new Error('the daemon has no page');
  const { origin, searchParams } = new URL(page);
  const headers = { cookie: `${cookieName(searchParams.get('token') ?? '')}=${searchParams.get('token')}` };
  const times: number[] = [];
  for (let time = 0; time < TIMES; time++) {
    const began = performance.now();
    const status = await fetched(`${origin}${path}`, headers);
    if (status !== 200) throw new Error(`${path} answered ${status}`);
    times.push(performance.now() - began);
  }
  return median(times);
}

function fetched(url: string, headers: Record<string, string>): Promise<number> {
  return new Promise((resolve, reject) => {
    get(url, { headers, agent: false }, (response) => {
      response.resume();
      response.on('end', () => resolve(response.statusCode ?? 0));
    }).on('error', reject);
  });
}
