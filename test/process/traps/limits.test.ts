import { closeSync, mkdirSync, openSync, readFileSync, rmSync, utimesSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect } from 'vitest';
import { media, until } from '../headroomd.ts';
import { trap } from './abilities.ts';
import { clipOfSize, type Daemon, type Ground, ground } from './ground.ts';

/** More folders than may be watched, and a system on which nothing may be: in a user namespace with limits of its own. */
let place: Ground;

beforeAll(() => {
  place = ground();
});
afterAll(() => place.clear());

const FOLDERS = 40;
const a = readFileSync(join(media, 'tidewater-a.mov'));

/** The program in a namespace of its own with another limit. The limit of the machine stays as it is. */
const limited = (limit: string, value: number) => [
  ...['unshare', '-U', '-r', 'sh', '-c'],
  ...[`echo ${value} > /proc/sys/user/${limit} && exec "$@"`, 'limited'],
];

async function startLimited(name: string, limit: string, value: number): Promise<{ daemon: Daemon; stripe: string }> {
  const stripe = join(place.folder, name);
  for (let folder = 0; folder < FOLDERS; folder += 1)
    mkdirSync(join(stripe, name, `card ${folder}`), { recursive: true });
  const daemon = await place.start({
    volumes: { [name]: stripe },
    arrivals: ['sweep_every = "2 s"', 'full_sweep_every = "10 s"'],
    through: limited(limit, value),
  });
  await until(`${name} is live`, () => daemon.volume(name)?.state === 'live', 20);
  return { daemon, stripe: join(stripe, name) };
}

const troubles = (daemon: Daemon) => daemon.log().filter(({ trouble, level }) => trouble !== undefined && level >= 40);

/** A clip into every folder, then a rewrite that shows in no folder's time, then a removal. */
async function nothingIsLost(daemon: Daemon, project: string, stripe: string): Promise<void> {
  const shot = new Date('2027-03-04T20:15:00Z');
  const last = join(stripe, `card ${FOLDERS - 1}`, 'A001.mov');
  for (let folder = 0; folder < FOLDERS; folder += 1) writeFileSync(join(stripe, `card ${folder}`, 'A001.mov'), a);
  utimesSync(last, shot, shot);
  await until('every clip', () => daemon.clips(project).length === FOLDERS, 25);
  const fd = openSync(last, 'r+');
  writeSync(fd, clipOfSize('tidewater-b.mov', a.length));
  closeSync(fd);
  utimesSync(last, shot, shot);
  const reread = () => daemon.clips(project).filter(({ reel }) => reel === 'B001').length === 1;
  await until('a rewrite with its time set back', reread, 20);
  rmSync(join(stripe, 'card 7'), { recursive: true });
  await until('a folder that went', () => daemon.clips(project).length === FOLDERS - 1, 15);
}

trap(
  'the limit of watches is reached: one warning with the line that raises it, and nothing is lost',
  ['namespace'],
  async () => {
    const { daemon, stripe } = await startLimited('few', 'max_inotify_watches', 10);
    await until('the warning', () => troubles(daemon).length > 0, 10);
    await nothingIsLost(daemon, 'few', stripe);
    await sleep(3000);
    const told = troubles(daemon).map(({ trouble, msg }) => ({ trouble, msg }));
    expect(told).toEqual([
      {
        trouble: 'watch-limit',
        msg: expect.stringMatching(/\b3\d folders cannot be watched.*sudo sysctl fs\.inotify\.max_user_watches=\d+/s),
      },
    ]);
    expect(await daemon.end()).toBe(0);
  },
);

trap(
  'nothing can be watched at all: one warning with the line that raises it, and nothing is lost',
  ['namespace'],
  async () => {
    const { daemon, stripe } = await startLimited('none', 'max_inotify_instances', 0);
    await until('the warning', () => troubles(daemon).length > 0, 10);
    await nothingIsLost(daemon, 'none', stripe);
    await sleep(3000);
    const told = troubles(daemon).map(({ trouble, msg }) => ({ trouble, msg }));
    expect(told).toEqual([
      { trouble: 'watch-limit', msg: expect.stringMatching(/sudo sysctl fs\.inotify\.max_user_instances=\d+/) },
    ]);
    expect(await daemon.end()).toBe(0);
  },
);
