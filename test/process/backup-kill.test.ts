import { createHash, randomBytes, randomInt } from 'node:crypto';
import { lstatSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { runs } from '../effort.ts';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type Bench, bench, until } from './headroomd.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: the whole program killed while it copies: ${why}`);

/** Kills; each comes at a random time of a backup that has something to do. */
const KILLS = runs(10);
const MOST_WAIT_MS = 350;

describe.skipIf(why !== null)('killed with SIGKILL while it copies', () => {
  let place: Bench;
  let drive: ShelfVolume;
  const hashes = new Map<string, string>();
  beforeEach(() => {
    place = bench();
    drive = shelfVolume('ext4', 512);
    drive.mount();
    mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
    hashes.clear();
  });
  afterEach(async () => {
    await place.clear();
    drive.remove();
  });

  const shelfFolder = () => join(drive.mountPoint, 'stripe/Saltmarsh');
  const hashOf = (path: string) => createHash('sha256').update(readFileSync(path)).digest('hex');

  /** Several small files and a larger one, as a shoot adds them. */
  function shoot(round: number): void {
    for (let at = 0; at < 9; at++) {
      const name = `A${String(round).padStart(3, '0')}_${at}.mov`;
      const path = join(place.volume, 'Saltmarsh', name);
      writeFileSync(path, randomBytes(at === 8 ? 4_000_000 : 150_000 + 1000 * at));
      hashes.set(name, hashOf(path));
    }
  }

  /** Every file that has its final name is whole; each by its inode. */
  function whole(): Map<string, bigint> {
    const found = new Map<string, bigint>();
    for (const name of onShelf()) {
      const path = join(shelfFolder(), name);
      expect([name, hashOf(path)]).toEqual([name, hashes.get(name)]);
      found.set(name, lstatSync(path, { bigint: true }).ino);
    }
    return found;
  }

  function onShelf(): string[] {
    try {
      return readdirSync(shelfFolder()).filter((name) => name.endsWith('.mov'));
    } catch {
      return [];
    }
  }

  const bytesHere = () =>
    [...hashes.keys()].reduce((sum, name) => sum + lstatSync(join(place.volume, 'Saltmarsh', name)).size, 0);
  /** A job leaves a note on the shelf of what it is at, until it has ended. */
  const notes = () => readdirSync(drive.mountPoint).filter((name) => name.startsWith('.headroomd-copying-'));

  test(`${KILLS} times: no half file has its final name, none is copied twice, and in the end all are there and known`, {
    timeout: 90_000 * KILLS,
  }, async () => {
    const config = join(place.folder, 'headroomd.toml');
    writeFileSync(
      config,
      `[[volume]]\nname = "stripe"\npath = "${place.volume}"\n\n[[shelf]]\nname = "shelf-a"\npath = "${drive.mountPoint}"\n\n[[backup]]\nfrom = "stripe"\nto = ["shelf-a"]\n`,
    );
    let known = new Map<string, bigint>();
    let midway = 0;
    for (let round = 0; round < KILLS; round++) {
      shoot(round);
      const daemon = await place.start(['--config', config]);
      // Most of what came is known by then; the rest is copied in the next round.
      await sleep(700);
      const left = notes();
      const isCopying = () => notes().some((name) => !left.includes(name));
      place.call('backup', 'now');
      const end = performance.now() + 3000;
      while (!isCopying() && performance.now() < end) await sleep(2);
      await sleep(randomInt(MOST_WAIT_MS));
      await daemon.end('SIGKILL');
      if (isCopying()) midway++;
      const now = whole();
      for (const [name, inode] of known) expect([name, now.get(name)]).toEqual([name, inode]);
      known = now;
    }
    console.log(`${midway} of ${KILLS} kills came in the middle of copying`);
    expect(midway).toBeGreaterThan(KILLS / 5);

    const last = await place.start(['--config', config]);
    await until('all files are known', () => (last.status().projects[0]?.bytes ?? 0) >= bytesHere());
    place.call('backup', 'now');
    const run = () => last.status().backups[0];
    await until('it has ended', () => run()?.state === 'done' && run()?.wantedFiles !== null, 60);
    expect(run()).toMatchObject({ failures: 0, changed: 0 });
    const now = whole();
    for (const [name, inode] of known) expect([name, now.get(name)]).toEqual([name, inode]);
    expect([...now.keys()].toSorted()).toEqual([...hashes.keys()].toSorted());
    expect(last.status().shelves[0]?.copies).toMatchObject({ files: hashes.size, verifiedFiles: hashes.size });
    expect(last.status().volumes[0]?.safety.exposedBytes).toBe(0);
    expect(readdirSync(shelfFolder()).filter((name) => !name.endsWith('.mov'))).toEqual(['ascmhl']);
    expect(readdirSync(drive.mountPoint).toSorted()).toEqual(['.headroomd-shelf.json', 'lost+found', 'stripe']);
    for (const [name, hash] of hashes)
      expect([name, hashOf(join(place.volume, 'Saltmarsh', name))]).toEqual([name, hash]);
    expect(await last.end()).toBe(0);
  });
});
