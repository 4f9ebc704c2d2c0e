import { spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, program, type Running, until } from './headroomd.ts';
import { onTerminal, whyNoTerminal } from './on-terminal.ts';

const why = whyNoTerminal();
if (why !== null) console.warn(`NOT CHECKED: measure ended in the middle, and its progress on a terminal: ${why}`);

let place: Bench;
beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Tidewater Sessions'), { recursive: true });
});
afterEach(() => place.clear());

async function started(more = ''): Promise<Running> {
  const config = join(place.folder, 'headroomd.toml');
  writeFileSync(config, `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nreserve = "1 GB"\n${more}`);
  const daemon = await place.start(['--config', config]);
  await until('the room is known', () => daemon.status().volumes[0]?.capacity.roomBytes !== null);
  return daemon;
}

test('a volume is measured, the budget rests on that, and still does after a restart', async () => {
  let daemon = await started();
  expect(daemon.status().volumes[0]?.speed).toMatchObject({ readBudgetBps: null, basis: null });
  const done = place.call('measure', 'stripe', '--json', '--size', '300 MB', '--anyway');
  expect(done.stderr).toBe('');
  expect(done.status).toBe(0);
  const sample = JSON.parse(done.stdout);
  expect(sample).toMatchObject({
    volume: 'stripe',
    requestBytes: 1_048_576,
    at: expect.stringMatching(/^\d{4}-.*[+-]\d\d:\d\d$/),
  });
  expect(sample.streams.map(({ streams }: { streams: number }) => streams)).toEqual([1, 4, 9]);
  expect(readdirSync(place.volume)).toEqual(['Tidewater Sessions']);
  const budget = () => daemon.status().volumes[0]?.speed;
  await until('the budget is known', () => budget()?.basis === 'measured');
  // One rate on a file system that is known to pass memory by, else the middle of two.
  const reads = Math.sqrt(sample.readLowBps * sample.readHighBps);
  expect((budget()?.readBudgetBps ?? 0) / (0.7 * reads)).toBeCloseTo(1, 1);
  await daemon.end();
  daemon = await started();
  await until('it is still known', () => budget()?.basis === 'measured');
  // Another layout: what was measured was of another volume.
  await daemon.end();
  daemon = await started('layout = { level = "0", members = 2, drive = "ssd" }\n');
  await until('it is expected anew', () => budget()?.basis === 'layout');
});

test('it refuses politely while a card is copied, with too little room, and of a volume that nobody knows', async () => {
  const daemon = await started();
  const footage = join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov');
  const writer = spawn('sh', [
    '-c',
    `head -c 60000 ${join(media, 'tidewater-a.mov')} > "${footage}"; exec 3>>"${footage}"; sleep 30`,
  ]);
  try {
    await until('it is copying', () => daemon.status().arrivals.some(({ state }) => state === 'copying'));
    const busy = place.call('measure', 'stripe', '--size', '300 MB');
    expect(busy.status).toBe(1);
    expect(busy.stderr).toMatch(
      /^headroomd: 1 copy is arriving on stripe \(Tidewater Sessions\/tidewater-a\.mov\): .*--anyway\.\n$/,
    );
  } finally {
    writer.kill('SIGKILL');
  }
  expect(place.call('measure', 'stripe', '--size', '1 MB', '--anyway').stderr).toMatch(
    /^headroomd: that is too little /,
  );
  // What an earlier one left is taken away first: it may be what takes the room.
  const left = join(place.volume, `.headroomd-measuring-${'ab'.repeat(16)}`);
  writeFileSync(left, 'left');
  writeFileSync(join(place.state, `measuring-${'ab'.repeat(16)}.json`), JSON.stringify({ path: left }));
  expect(place.call('measure', 'stripe', '--size', '1 MB', '--anyway').stderr).toMatch(
    /^headroomd: removed what an earlier measurement had left: .*\nheadroomd: that is too little /,
  );
  expect(existsSync(left)).toBe(false);
  expect(place.call('measure', 'shelf-a').stderr).toBe('headroomd: there is no volume shelf-a; there are stripe.\n');
  expect(place.call('measure', 'stripe', '--size', 'much').status).toBe(2);
  expect(readdirSync(place.volume)).toEqual(['Tidewater Sessions']);
  await daemon.end();
  expect(place.call('measure', 'stripe').status).toBe(3);
});

test.skipIf(why !== null).each(['SIGINT', 'SIGKILL'] as const)(
  'ended with %s in the middle it leaves nothing, and is no clip',
  async (signal) => {
    const daemon = await started();
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov'));
    await until('the clip is ready', () => daemon.status().projects[0]?.clips === 1);
    const args = ['measure', 'stripe', '--anyway', '--size', '2 GB', '--state', place.state];
    const shown = onTerminal([process.execPath, join(program, '../main.ts'), ...args], { columns: 100, rows: 24 });
    try {
      await until('it is under way', () => /step 1 of 5, writing: \d+ %, \S+ MB\/s, at\.*/.test(shown.written()));
      process.kill(shown.pid(), signal);
      await shown.ended;
    } finally {
      shown.clear();
    }
    expect(shown.written(), 'one line, drawn over').not.toContain('\n');
    await sleep(1000);
    expect(readdirSync(place.volume)).toEqual(['Tidewater Sessions']);
    expect(daemon.status()).toMatchObject({
      arrivals: expect.not.arrayContaining([expect.objectContaining({ state: 'copying' })]),
    });
    expect(daemon.clips()).toHaveLength(1);
    expect(daemon.status().volumes[0]?.speed.basis).not.toBe('measured');
  },
);
