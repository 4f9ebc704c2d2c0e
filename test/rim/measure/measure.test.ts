import { execFileSync, spawnSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  rmSync,
  statfsSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { removeLeftovers } from '../../../src/rim/measure/measure-file.ts';
import { measureElsewhere } from '../../../src/rim/measure/measure-process.ts';
import type { MeasureOrder, MeasureProgress } from '../../../src/rim/measure/measuring.ts';
import { Noise } from '../../../src/rim/measure/noise.ts';
import { boundVolume, whyNot as whyNoFuse } from '../watch/fuse-volume.ts';
import { loopVolume, whyNoMounts } from '../watch/loop-volume.ts';

const entry = fileURLToPath(new URL('../../../src/daemon/compose-measure-child.ts', import.meta.url));
const MEBIBYTE = 1_048_576;
const uid = process.getuid?.() ?? -1;

const noMounts = whyNoMounts();
const noFuse = whyNoFuse(boundVolume);
for (const [what, why] of [
  ['measuring on ext4 and tmpfs, on a full volume, ended with SIGKILL', noMounts],
  ['measuring where no file without a name can be made', noFuse],
]) {
  if (why !== null) console.warn(`NOT CHECKED: ${what}. No volume can be mounted here: ${why}`);
}

let notes: string;
beforeEach(() => {
  notes = mkdtempSync(join(tmpdir(), 'headroomd-notes-'));
});
afterEach(() => rmSync(notes, { recursive: true, force: true }));

const order = (folder: string, over: Partial<MeasureOrder> = {}): MeasureOrder => ({
  ...{ folder, notes, bytes: 32 * MEBIBYTE, requestBytes: MEBIBYTE, depth: 4, streams: [1, 3], seconds: 20 },
  ...over,
});

/** The process that measures below this one. */
function measuringPid(): number {
  const found = execFileSync('pgrep', ['-P', String(process.pid), '-f', 'compose-measure-child'], { encoding: 'utf8' });
  return Number(found.trim().split('\n').at(-1));
}

async function measuredOn(folder: string, during: (progress: MeasureProgress) => void = () => {}) {
  const progress: MeasureProgress[] = [];
  const measured = await measureElsewhere(entry, order(folder), (one) => {
    progress.push(one);
    during(one);
  });
  return { measured, progress };
}

describe.skipIf(noMounts !== null)('on a drive', () => {
  test('ext4: past the page cache, in a file that has no name, and nothing is left', async () => {
    const volume = loopVolume(undefined, 64);
    volume.mount();
    try {
      const free = statfsSync(volume.mountPoint).bfree;
      const { measured } = await measuredOn(volume.mountPoint, () => {
        expect(readdirSync(volume.mountPoint)).toEqual(['lost+found']);
      });
      expect(measured).toMatchObject({ method: 'direct', bytes: 32 * MEBIBYTE });
      expect(measured.writeBps).toBeGreaterThan(1e6);
      expect(measured.readBps).toBeGreaterThan(1e6);
      expect(measured.streams.map(({ streams }) => streams)).toEqual([1, 3]);
      for (const { readBps, p50Ms, p99Ms } of measured.streams) {
        expect(readBps).toBeGreaterThan(1e6);
        expect(p50Ms).toBeGreaterThan(0);
        expect(p99Ms).toBeGreaterThanOrEqual(p50Ms);
      }
      expect(readdirSync(volume.mountPoint)).toEqual(['lost+found']);
      expect(statfsSync(volume.mountPoint).bfree).toBe(free);
      expect(readdirSync(notes)).toEqual([]);
    } finally {
      volume.remove();
    }
  });

  test('a volume that is too small: told with the system code, and nothing is left', async () => {
    const volume = loopVolume();
    volume.mount();
    try {
      const free = statfsSync(volume.mountPoint).bfree;
      await expect(measuredOn(volume.mountPoint)).rejects.toMatchObject({ code: 'ENOSPC' });
      expect(statfsSync(volume.mountPoint).bfree).toBe(free);
      expect(readdirSync(volume.mountPoint)).toEqual(['lost+found']);
    } finally {
      volume.remove();
    }
  });

  test('ended with SIGKILL in the middle: the room is there again', async () => {
    const volume = loopVolume(undefined, 64);
    volume.mount();
    try {
      const free = statfsSync(volume.mountPoint).bfree;
      const slow = order(volume.mountPoint, { streams: Array.from({ length: 500 }, () => 1) });
      let used = free;
      let killed = false;
      const measuring = measureElsewhere(entry, slow, ({ doing }) => {
        if (doing !== 'streams' || killed) return;
        killed = true;
        used = statfsSync(volume.mountPoint).bfree;
        process.kill(measuringPid(), 'SIGKILL');
      });
      await expect(measuring).rejects.toThrow('the measuring process ended (SIGKILL)');
      expect(used).toBeLessThan(free);
      expect(statfsSync(volume.mountPoint).bfree).toBe(free);
    } finally {
      volume.remove();
    }
  });

  test('tmpfs, which is memory, is not called a drive though it takes O_DIRECT', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'headroomd-tmpfs-'));
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64M', 'tmpfs', folder]);
    try {
      const { measured } = await measuredOn(folder);
      expect(measured.method).toBe('dropped');
      expect(measured.readBps).toBeGreaterThan(1e8);
      expect(readdirSync(folder)).toEqual([]);
    } finally {
      spawnSync('umount', ['-l', folder]);
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

describe.skipIf(noFuse !== null)('where a file must have a name', () => {
  test('it is noted first, kept out of the way, and taken away with its note', async () => {
    const volume = boundVolume();
    volume.mount();
    try {
      writeFileSync(join(volume.mountPoint, '.headroomd-measuring-mine'), 'a file of someone else');
      const seen = new Set<string>();
      const { measured } = await measuredOn(volume.mountPoint, () => {
        for (const name of readdirSync(volume.mountPoint)) seen.add(name);
        expect(readdirSync(notes)).toHaveLength(1);
      });
      // It takes O_DIRECT, and reads from the memory of the file system behind it.
      expect(measured.method).toBe('dropped');
      expect(measured.readBps).toBeGreaterThan(1e6);
      expect([...seen].filter((name) => /^\.headroomd-measuring-[0-9a-f]{32}$/.test(name))).toHaveLength(1);
      expect(readdirSync(volume.mountPoint)).toEqual(['.headroomd-measuring-mine']);
      expect(readdirSync(notes)).toEqual([]);
    } finally {
      volume.remove();
    }
  });

  test('after SIGKILL the next start takes it away, and nothing else', async () => {
    const volume = boundVolume();
    volume.mount();
    try {
      let killed = false;
      const slow = order(volume.mountPoint, { streams: Array.from({ length: 500 }, () => 1) });
      const measuring = measureElsewhere(entry, slow, () => {
        if (killed) return;
        killed = true;
        process.kill(measuringPid(), 'SIGKILL');
      });
      await expect(measuring).rejects.toThrow('SIGKILL');
      const [left] = readdirSync(volume.mountPoint);
      expect(left).toMatch(/^\.headroomd-measuring-/);
      // Not mounted after the power cut: not there, but not gone.
      volume.unmount();
      expect(removeLeftovers(nodeFs, notes, uid)).toEqual([]);
      expect(readdirSync(notes)).toHaveLength(1);
      volume.mount();
      expect(removeLeftovers(nodeFs, notes, uid)).toEqual([join(volume.mountPoint, left ?? '')]);
      expect(readdirSync(volume.mountPoint)).toEqual([]);
      expect(readdirSync(notes)).toEqual([]);
    } finally {
      volume.remove();
    }
  });
});

describe('what is left of a measurement', () => {
  const token = 'ab'.repeat(16);

  test('a file of another name, a link and a folder are never removed, whatever a note says', () => {
    const folder = join(notes, 'volume');
    mkdirSync(folder);
    const footage = join(folder, 'A001C001.mov');
    writeFileSync(footage, 'footage');
    const link = join(folder, `.headroomd-measuring-${token}`);
    symlinkSync(footage, link);
    const note = (name: string, text: string) => writeFileSync(join(notes, `measuring-${name}.json`), text);
    note(token, JSON.stringify({ path: footage }));
    note('cd'.repeat(16), JSON.stringify({ path: link }));
    note('ef'.repeat(16), '{');
    writeFileSync(join(notes, 'measuring-other.json'), JSON.stringify({ path: footage }));
    expect(removeLeftovers(nodeFs, notes, uid)).toEqual([]);
    expect(existsSync(footage) && existsSync(link)).toBe(true);
    // One that cannot be read stays for a person to look at; the others said nothing that is ours.
    expect(readdirSync(notes).sort()).toEqual(
      [`measuring-${'ef'.repeat(16)}.json`, 'measuring-other.json', 'volume'].sort(),
    );
    mkdirSync(join(folder, `.headroomd-measuring-${'11'.repeat(16)}`));
    note(token, JSON.stringify({ path: join(folder, `.headroomd-measuring-${'11'.repeat(16)}`) }));
    expect(removeLeftovers(nodeFs, notes, uid)).toEqual([]);
  });

  test('a note of a file that is gone goes, with its volume in place; it stays while the folder is not there', () => {
    const folder = join(notes, 'volume');
    const note = join(notes, `measuring-${token}.json`);
    mkdirSync(folder);
    const folderInode = nodeFs.lstatSync(folder, { bigint: true }).ino.toString();
    writeFileSync(note, JSON.stringify({ path: join(folder, `.headroomd-measuring-${token}`), folderInode }));
    nodeFs.renameSync(folder, `${folder}-away`);
    expect(removeLeftovers(nodeFs, notes, uid)).toEqual([]);
    expect(existsSync(note)).toBe(true);
    nodeFs.renameSync(`${folder}-away`, folder);
    expect(removeLeftovers(nodeFs, notes, uid)).toEqual([]);
    expect(existsSync(note)).toBe(false);
  });

  test('nor one of another user', () => {
    const path = join(notes, `.headroomd-measuring-${token}`);
    writeFileSync(path, 'x');
    writeFileSync(join(notes, `measuring-${token}.json`), JSON.stringify({ path }));
    expect(removeLeftovers(nodeFs, notes, uid + 1)).toEqual([]);
    expect(existsSync(path)).toBe(true);
  });
});

test('what is written cannot be compressed, and no two blocks are alike', async () => {
  const { gzipSync } = await import('node:zlib');
  const { randomFillSync } = await import('node:crypto');
  const noise = new Noise(256 * 1024, randomFillSync);
  const parts = Array.from({ length: 40 }, () => Buffer.from(noise.next()));
  const all = Buffer.concat(parts);
  const blocks = new Set(
    parts.flatMap((part) => [...Array(64).keys()].map((at) => part.toString('latin1', at * 4096, at * 4096 + 4096))),
  );
  expect(blocks.size).toBe(40 * 64);
  expect(gzipSync(all.subarray(0, 4 * 1024 * 1024)).length / (4 * 1024 * 1024)).toBeGreaterThan(0.99);
});
