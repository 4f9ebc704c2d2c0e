import { execFileSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type InspectFs, type InspectOptions, inspect } from '../../../src/rim/watch/inspect.ts';
import { inSlices } from '../../../src/rim/watch/slices.ts';
import type { ProcFs } from '../../../src/rim/watch/writers.ts';

const media = fileURLToPath(new URL('../../fixtures/media/', import.meta.url));
let base: string;

beforeEach(() => {
  base = nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-inspect-'));
});
afterEach(() => nodeFs.rmSync(base, { recursive: true }));

const look = (paths: string[], over: Partial<InspectOptions> = {}) =>
  inSlices(
    inspect(paths, {
      fs: nodeFs,
      proc: nodeFs as unknown as ProcFs,
      base,
      device: nodeFs.statSync(base, { bigint: true }).dev,
      remote: false,
      uid: process.geteuid?.() ?? 0,
      pid: process.pid,
      ...over,
    }),
  );

describe('inspect', () => {
  test('one answer for each path, in order, whatever is there', async () => {
    nodeFs.copyFileSync(`${media}tidewater-a.mov`, join(base, 'a.mov'));
    nodeFs.writeFileSync(join(base, 'half.mov'), nodeFs.readFileSync(`${media}tidewater-a.mov`).subarray(0, 30_000));
    nodeFs.writeFileSync(join(base, 'empty.mov'), '');
    nodeFs.symlinkSync(join(base, 'a.mov'), join(base, 'link.mov'));
    nodeFs.mkdirSync(join(base, 'folder.mov'));
    execFileSync('mkfifo', [join(base, 'pipe.mov')]);
    const paths = [
      'a.mov',
      'half.mov',
      'empty.mov',
      'link.mov',
      'folder.mov',
      'pipe.mov',
      'none.mov',
      'a.mov/x',
      'a.mov',
    ];
    const evidence = await look(paths);
    expect(evidence.map(({ path }) => path)).toEqual(paths);
    expect(evidence.map((one) => one.stat?.size ?? null)).toEqual([
      163_792,
      30_000,
      0,
      null,
      null,
      null,
      null,
      null,
      163_792,
    ]);
    expect(evidence.map(({ wholeness }) => wholeness).slice(0, 3)).toEqual(['whole', 'cut', 'empty']);
    expect(evidence.map(({ error }) => error)).toEqual(paths.map(() => null));
    expect(evidence[0]).toMatchObject({ writers: 'none', detail: null, stat: { nlink: 1, ino: expect.any(BigInt) } });
    expect(evidence[1]?.detail).toMatch(/^30,000 of at least [\d,]+ bytes are there$/);
  });

  test('leaves no time of access behind', async () => {
    const file = join(base, 'a.mov');
    nodeFs.copyFileSync(`${media}tidewater-a.mov`, file);
    const long = new Date('2020-02-02T00:00:00Z');
    nodeFs.utimesSync(file, long, long);
    await look(['a.mov']);
    expect(nodeFs.statSync(file).atimeMs).toBe(long.getTime());
  });

  test('on a remote file system nobody seen is nobody known', async () => {
    nodeFs.writeFileSync(join(base, 'a.mov'), 'x');
    expect((await look(['a.mov'], { remote: true }))[0]?.writers).toBe('unknown');
  });

  test('a file that cannot be read keeps its stat and says why, without its name', async () => {
    nodeFs.writeFileSync(join(base, 'a\n.mov'), 'some content');
    nodeFs.writeFileSync(join(base, 'b.mov'), 'some other content');
    const fs: InspectFs = {
      ...nodeFs,
      openSync: (path, flags) => {
        if (String(path).includes('a\n'))
          throw Object.assign(new Error(`EACCES: permission denied, open '${path}'`), { code: 'EACCES' });
        return nodeFs.openSync(path, flags);
      },
    };
    const [a, b] = await look(['a\n.mov', 'b.mov'], { fs });
    expect(a).toMatchObject({ error: 'EACCES: permission denied, open', stat: { size: 12 } });
    expect(b).toMatchObject({ error: null, wholeness: 'not-media' });
  });

  test('an I/O error in the middle of a file', async () => {
    nodeFs.copyFileSync(`${media}tidewater-a.mov`, join(base, 'a.mov'));
    const fs = {
      ...nodeFs,
      readSync: (() => {
        throw Object.assign(new Error('EIO: i/o error, read'), { code: 'EIO' });
      }) as typeof nodeFs.readSync,
    };
    expect((await look(['a.mov'], { fs }))[0]).toMatchObject({
      error: 'EIO: i/o error, read',
      wholeness: 'no-structure',
    });
  });

  test('the stat is the one after everything else: what was written meanwhile shows', async () => {
    const file = join(base, 'a.wav');
    nodeFs.copyFileSync(`${media}SM12-T003.WAV`, file);
    const size = nodeFs.statSync(file).size;
    const fs: InspectFs = {
      ...nodeFs,
      closeSync: (fd) => {
        nodeFs.closeSync(fd);
        nodeFs.appendFileSync(file, 'late');
      },
    };
    expect((await look(['a.wav'], { fs }))[0]).toMatchObject({ wholeness: 'whole', stat: { size: size + 4 } });
  });
});
