import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Snapshot } from '../../src/core/present/snapshot.ts';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: a project that lives on shelves alone, by the whole program: ${why}`);

describe.skipIf(why !== null)('a project that is taken away after its backup', () => {
  let place: Bench;
  let drives: ShelfVolume[];
  beforeEach(() => {
    place = bench();
    drives = [shelfVolume('ext4', 64), shelfVolume('ext4', 48), shelfVolume('ext4', 48)];
    for (const drive of drives) drive.mount();
  });
  afterEach(async () => {
    await place.clear();
    for (const drive of drives) drive.remove();
  });

  function configure(): string {
    const [stripe, a, b] = drives.map(({ mountPoint }) => mountPoint);
    const config = join(place.folder, 'headroomd.toml');
    const shelf = (name: string, path: string | undefined) => `[[shelf]]\nname = "${name}"\npath = "${path}"\n`;
    writeFileSync(
      config,
      `[[volume]]\nname = "stripe"\npath = "${stripe}"\n${shelf('shelf-a', a)}${shelf('shelf-b', b)}
[[backup]]\nfrom = "stripe"\nto = ["shelf-a", "shelf-b"]\n`,
    );
    return config;
  }

  const projectOf = (daemon: Running, name: string): Snapshot['projects'][number] | undefined =>
    daemon.status().projects.find((project) => project.name === name);
  const copiesOn = (daemon: Running) => daemon.status().shelves.map(({ copies }) => copies.files);

  test('stays in Projects, over a kill too; brought back, it is known without a new copy', async () => {
    const [stripe, shelfA] = drives.map(({ mountPoint }) => mountPoint) as [string, string];
    const home = join(stripe, 'Saltmarsh');
    mkdirSync(join(home, 'Footage'), { recursive: true });
    mkdirSync(join(stripe, 'Lock Keepers'));
    for (const name of ['tidewater-a.mov', 'tidewater-b.mov']) cpSync(join(media, name), join(home, 'Footage', name));
    cpSync(join(media, 'tidewater-c.mov'), join(stripe, 'Lock Keepers', 'tidewater-c.mov'));
    writeFileSync(join(home, 'edit.prproj'), 'cut one');
    // Not in the middle of a save.
    execFileSync('touch', ['-d', '1 hour ago', join(home, 'edit.prproj')]);
    const footage = ['a', 'b'].reduce((sum, name) => sum + statSync(join(media, `tidewater-${name}.mov`)).size, 0);

    const daemon = await place.start(['--config', configure()]);
    await until('the clips are ready', () => projectOf(daemon, 'Saltmarsh')?.clips === 2);
    expect(projectOf(daemon, 'Saltmarsh')?.safety).toMatchObject({ verifiedCopies: 0, onlyOnShelf: 0 });
    expect(place.call('backup', 'now').status).toBe(0);
    await until('it is copied to both', () => projectOf(daemon, 'Saltmarsh')?.safety.verifiedCopies === 2, 60);
    const ended = () => daemon.status().backups.filter(({ state }) => state === 'done').length;
    await until('both have ended', () => ended() === 2);
    expect(projectOf(daemon, 'Saltmarsh')?.safety.exposedBytes).toBe(0);
    const copies = copiesOn(daemon);

    rmSync(home, { recursive: true });
    await until('it is gone', () => projectOf(daemon, 'Saltmarsh')?.gone === true);
    const gone = { bytes: 0, clips: 0 };
    const safety = {
      ...{ exposedBytes: 0, verifiedCopies: 2, onlyOnShelf: footage + 7, onlyOnShelfFiles: 3 },
      ...{ onlyOnShelfFootage: footage, onlyOnShelfAt: ['shelf-a', 'shelf-b'] },
    };
    expect(projectOf(daemon, 'Saltmarsh')).toMatchObject({ ...gone, safety });
    expect(projectOf(daemon, 'Lock Keepers')).toMatchObject({ gone: false, safety: { onlyOnShelf: 0 } });
    const told =
      /Saltmarsh \(stripe\): Nothing of it is left on stripe: 3 files .* are only\s+on\s+shelf-a\s+and\s+shelf-b/s;
    expect(place.call('status').stdout).toMatch(told);
    expect(place.call('backup', 'status').stdout).toMatch(/3 files \(.*\) of Saltmarsh are on shelf-b and no longer/);

    await daemon.end('SIGKILL');
    const next = await place.start(['--config', configure()]);
    await until('it is told as before', () => projectOf(next, 'Saltmarsh')?.gone === true);
    expect(projectOf(next, 'Saltmarsh')).toMatchObject({ ...gone, safety });

    // As a person would: with their times.
    execFileSync('rsync', ['-a', `${shelfA}/stripe/Saltmarsh/`, `${home}/`]);
    await until('it is back', () => projectOf(next, 'Saltmarsh')?.clips === 2);
    await until('its copies count', () => projectOf(next, 'Saltmarsh')?.safety.verifiedCopies === 2);
    expect(projectOf(next, 'Saltmarsh')).toMatchObject({ gone: false, safety: { exposedBytes: 0, onlyOnShelf: 0 } });
    // The lists came along, and nothing else is new: the next backup copies no file of the project itself.
    place.call('backup', 'now', 'shelf-a');
    const isDone = () =>
      next
        .status()
        .backups.some(({ shelf, state, reason }) => shelf === 'shelf-a' && state === 'done' && reason === 'command');
    await until('it has ended', isDone);
    const first = copiesOn(next)[0] ?? 0;
    const lists = next.status().backups.find(({ shelf }) => shelf === 'shelf-a')?.files ?? 0;
    expect(first - lists).toBe(copies[0]);
    expect(await next.end()).toBe(0);
  });
});
