import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { VerifySnapshot } from '../../src/core/present/snapshot-verify.ts';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type Bench, bench, until } from './headroomd.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: copies read again by command, by the whole program: ${why}`);

const FILES = 3_000;

describe.skipIf(why !== null)('copies are read again by command, by the program as it is run', () => {
  let place: Bench;
  let drive: ShelfVolume;
  beforeEach(() => {
    place = bench();
    drive = shelfVolume('ext4', 128);
    drive.mount();
    mkdirSync(join(place.volume, 'Saltmarsh', 'notes'), { recursive: true });
  });
  afterEach(async () => {
    await place.clear();
    drive.remove();
  });

  function configure(): string {
    const config = join(place.folder, 'headroomd.toml');
    const lines = [
      ...['[[volume]]', 'name = "stripe"', `path = "${place.volume}"`],
      ...['[[shelf]]', 'name = "shelf-a"', `path = "${drive.mountPoint}"`],
      ...['[[backup]]', 'from = "stripe"', 'to = ["shelf-a"]'],
    ];
    writeFileSync(config, lines.join('\n'));
    return config;
  }

  /** As the program asks while it waits, without starting a process for it. */
  function look(): Promise<VerifySnapshot | undefined> {
    return new Promise((resolve, reject) => {
      const asked = request({ socketPath: join(place.state, 'control.sock'), path: '/api/backup/verify' }, (answer) => {
        let text = '';
        answer.setEncoding('utf8').on('data', (part: string) => {
          text += part;
        });
        answer.on('end', () => resolve((JSON.parse(text) as { verifications: VerifySnapshot[] }).verifications[0]));
      });
      asked.on('error', reject);
      asked.end();
    });
  }

  test('killed in the middle it goes on where it was; what is wrong is an alarm and an exit code, until it is put right', async () => {
    for (let at = 0; at < FILES; at++)
      writeFileSync(join(place.volume, 'Saltmarsh', 'notes', `${at}.txt`), `note ${at}`);
    const daemon = await place.start(['--config', configure()]);
    await until('all is known', () => daemon.status().projects[0]?.bytes === noteBytes());
    await until('nothing is arriving', () => daemon.status().arrivalTotals.pending === 0, 60);
    expect(place.call('backup', 'verify').stderr).toMatch(/^headroomd: there are no copies on any shelf/);
    place.call('backup', 'now');
    await until('it is copied', () => daemon.status().backups[0]?.state === 'done', 120);
    expect(daemon.status().backups[0]?.files).toBe(FILES);

    expect(place.call('backup', 'verify', 'shelf-a').stdout).toBe(
      'Begun: the copies of stripe on shelf-a are read again. "headroomd backup status" tells how it goes.\n',
    );
    for (let run = await look(); (run?.files ?? 0) === 0; run = await look()) await sleep(5);
    const before = await look();
    expect(before?.state, 'it was killed in the middle').toBe('reading');
    await daemon.end('SIGKILL');

    const next = await place.start(['--config', configure()]);
    expect(next.status().verifications[0]?.state).toBe('stopped');
    expect(place.call('backup', 'status').stdout.replaceAll(/\s+/g, ' ')).toContain(
      '"headroomd backup verify shelf-a" goes on from there.',
    );
    const read = place.call('backup', 'verify', '--wait', '--json');
    expect(read.status).toBe(0);
    const [run] = JSON.parse(read.stdout) as VerifySnapshot[];
    expect(run).toMatchObject({ verdict: 'as-written', files: FILES, allFiles: FILES, gone: 0 });
    expect(run?.earlierFiles).toBeGreaterThanOrEqual(before?.files ?? Number.NaN);
    expect(run?.earlierFiles).toBeLessThan(FILES);

    const copy = (name: string) => join(drive.mountPoint, 'stripe', 'Saltmarsh', 'notes', name);
    writeFileSync(copy('17.txt'), 'nXte 17');
    rmSync(copy('18.txt'));
    const bad = place.call('backup', 'verify', 'shelf-a', '--project', 'Saltmarsh', '--wait');
    expect(bad.status).toBe(7);
    expect(bad.stdout.replaceAll(/\s+/g, ' ')).toMatch(
      /^The copies of Saltmarsh \(stripe\) on shelf-a: 3,?000 files read \(.*\), 1 differs from what was written, 1 is gone\. shelf-a: stripe\/Saltmarsh\/notes\/17\.txt is not what was written\. The file on the working volume was read again and is what was copied \(stripe: Saltmarsh\/notes\/17\.txt\)\. No other copy of it is known\. shelf-a: stripe\/Saltmarsh\/notes\/18\.txt is gone; somebody took it away\. $/,
    );
    const alarm = () => next.status().advisories.find(({ kind }) => kind === 'copy-differs');
    await until('it is an alarm', () => alarm()?.severity === 'critical');
    expect(readFileSync(copy('17.txt'), 'utf8')).toBe('nXte 17');
    expect(place.call('backup', 'verify', '--end').stdout).toBe('Nothing is being read again.\n');

    // A backup that cannot begin takes nothing back.
    drive.unmount();
    place.call('backup', 'now');
    await until('it is refused', () => next.status().backups[0]?.state === 'refused');
    expect(alarm()?.severity).toBe('critical');
    drive.mount();
    writeFileSync(copy('17.txt'), 'note 17');
    place.call('backup', 'now');
    await until('it is over', () => alarm() === undefined, 60);
    expect(await next.end()).toBe(0);
  });

  const noteBytes = () => Array.from({ length: FILES }, (_, at) => `note ${at}`.length).reduce((sum, one) => sum + one);
});
