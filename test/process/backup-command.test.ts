import { cpSync, existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

const SIZE = statSync(join(media, 'tidewater-a.mov')).size;
const COPIER = fileURLToPath(new URL('../fixtures/commands/copier.mjs', import.meta.url));
const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: a program of the user that copies, by the whole program: ${why}`);

describe.skipIf(why !== null)('a program of the user that copies, called by the program as it is run', () => {
  let place: Bench;
  let drive: ShelfVolume;
  beforeEach(() => {
    place = bench();
    drive = shelfVolume('ext4', 48);
    drive.mount();
    mkdirSync(join(place.volume, 'Tidewater Sessions'), { recursive: true });
  });
  afterEach(async () => {
    await place.clear();
    drive.remove();
  });

  async function start(how: string, nightly = '0 4 * * *', extra = ''): Promise<Running> {
    const config = join(place.folder, 'headroomd.toml');
    const target = join(drive.mountPoint, 'tape');
    const command = [process.execPath, COPIER, how, '{list}', '{root}', target, extra];
    const lines = [
      ...['[[volume]]', 'name = "stripe"', `path = "${place.volume}"`],
      ...['[[backup]]', 'from = "stripe"', 'name = "tape"', `command = ${JSON.stringify(command)}`],
      ...[`read_back = "${drive.mountPoint}"`, `nightly = "${nightly}"`],
    ];
    writeFileSync(config, lines.join('\n'));
    return place.start(['--config', config]);
  }
  const flat = (text: string) => text.replaceAll(/\s+/g, ' ');
  async function withClip(daemon: Running): Promise<void> {
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov'));
    await until('the clip is ready', () => daemon.status().projects[0]?.clips === 1);
    await until('it is exposed', () => (daemon.status().volumes[0]?.safety.exposedBytes ?? 0) > 0);
  }

  test('what it says is told and does not count, until it was read back; a shelf is not needed', async () => {
    const first = await start('word');
    await withClip(first);
    expect(place.call('backup', 'now', 'shelf-z').stderr).toBe(
      'headroomd: no backup goes to shelf-z; there are tape.\n',
    );
    expect(place.call('backup', 'now', 'tape').stdout).toMatch(/^Begun: stripe to tape\./);
    await until('it has ended', () => first.status().commands[0]?.state === 'done');
    expect(first.status().commands[0]).toMatchObject({ reportedFiles: 1, copies: { verifiedFiles: 0 } });
    expect(first.status().volumes[0]?.safety.exposedBytes).toBeGreaterThan(0);
    expect(flat(place.call('backup', 'status').stdout)).toContain(
      'tape: its command says that it has 1 file of stripe (164 kB); headroomd has read none of them, so none counts as verified.',
    );
    await first.end();

    // Another name of the same kind: nothing was said of it.
    const second = await start('good');
    writeFileSync(join(place.volume, 'Tidewater Sessions', 'edl.txt'), 'another file');
    await until('it is known', () => (second.status().projects[0]?.bytes ?? 0) > SIZE);
    await until('it has settled', () => second.status().arrivalTotals.pending === 0);
    place.call('backup', 'now');
    await until('it has ended', () => second.status().commands[0]?.copies.verifiedFiles === 1);
    expect(flat(place.call('backup', 'status').stdout)).toContain(
      '1 file (12 B) of stripe there was read back from the medium and counts as verified.',
    );
    expect(await second.end()).toBe(0);
  });

  test('it is called by night; killed in the middle, nothing that it started lives on, and the next run starts clean', async () => {
    const hanging = await start('hangs', '* * * * *', 'after-one');
    await withClip(hanging);
    const pidsAt = join(drive.mountPoint, 'tape.pids');
    await until(
      'its minute has come',
      () => existsSync(pidsAt) && readFileSync(pidsAt, 'utf8').split('\n').length === 3,
      90,
    );
    await until('what it says is heard', () => hanging.status().commands[0]?.reportedFiles === 1);
    const pids = readFileSync(pidsAt, 'utf8').trim().split('\n');
    expect(pids.every((pid) => existsSync(`/proc/${pid}`))).toBe(true);
    await hanging.end('SIGKILL');
    await until('they are gone', () => pids.every((pid) => !existsSync(`/proc/${pid}`)), 15);

    const next = await start('fails');
    expect(next.status().commands[0]).toMatchObject({ state: 'stopped', copies: { reportedFiles: 1 } });
    writeFileSync(join(place.volume, 'Tidewater Sessions', 'edl.txt'), 'another file');
    await until('it is known', () => (next.status().projects[0]?.bytes ?? 0) > SIZE);
    await until('it has settled', () => next.status().arrivalTotals.pending === 0);
    place.call('backup', 'now', 'tape');
    await until('it has ended', () => next.status().commands[0]?.state === 'failed');
    await until('it is told', () => next.status().advisories.some(({ kind }) => kind === 'backup-failed'));
    const told = next.status().advisories.find(({ kind }) => kind === 'backup-failed');
    expect(told?.message).toMatch(
      /^The last copying of stripe to tape by its command did not end well: .* ended with code 3; .* Its last words: no tape in the drive$/,
    );
    expect(await next.end()).toBe(0);
  });
});
