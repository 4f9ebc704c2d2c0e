import { spawn } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { memfs } from 'memfs';
import { describe, expect, test } from 'vitest';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { inSlices } from '../../../src/rim/watch/slices.ts';
import { findWriters, type ProcFs } from '../../../src/rim/watch/writers.ts';

const ME = 1000;

/** A /proc with descriptors given as "pid/fd": [target, flags]. The targets exist, so that stat through the link works. */
function proc(descriptors: Record<string, [target: string, flags: string]>, extra: Record<string, string> = {}) {
  const { fs } = memfs({ '/proc/self': '', ...extra });
  for (const [place, [target, flags]] of Object.entries(descriptors)) {
    const [pid, fd] = place.split('/');
    fs.mkdirSync(`/proc/${pid}/fd`, { recursive: true });
    fs.mkdirSync(`/proc/${pid}/fdinfo`, { recursive: true });
    fs.symlinkSync(target, `/proc/${pid}/fd/${fd}`);
    fs.writeFileSync(`/proc/${pid}/fdinfo/${fd}`, `pos:\t0\nflags:\t${flags}\nmnt_id:\t27\n`);
    if (target.startsWith('/')) {
      fs.mkdirSync(target.slice(0, target.lastIndexOf('/')), { recursive: true });
      if (!fs.existsSync(target)) fs.writeFileSync(target, 'x');
    }
  }
  return fs as unknown as ProcFs & typeof nodeFs;
}

function question(fs: typeof nodeFs, file: string, path: string, nlink = 1) {
  const { dev, ino } = fs.statSync(file, { bigint: true });
  return { path, dev, ino, nlink };
}

const ask = (fs: ProcFs, questions: Parameters<typeof findWriters>[0], uid = ME) =>
  inSlices(findWriters(questions, { fs, uid, pid: 1 }));

/** The same /proc, in which the descriptors of one process belong to somebody else. */
function hide(fs: ProcFs, pid: string, uid: bigint): ProcFs {
  return {
    ...fs,
    readlinkSync: (path, options) => fs.readlinkSync(path, options),
    readFileSync: (path, encoding) => fs.readFileSync(path, encoding),
    readdirSync: (path) => {
      if (path === `/proc/${pid}/fd`) throw Object.assign(new Error('EACCES'), { code: 'EACCES' });
      return fs.readdirSync(path);
    },
    statSync: (path, options) => {
      const stat = fs.statSync(path, options);
      return path === `/proc/${pid}` ? { dev: stat.dev, ino: stat.ino, uid } : stat;
    },
  };
}

describe('who has it open', () => {
  // open(2) on Linux: 0 read, 1 write, 2 both in the lowest two bits; 0100000 is O_LARGEFILE, 02000 O_APPEND.
  test.each([
    ['0100000', 'none'],
    ['0100001', 'open'],
    ['0100002', 'open'],
    ['0102001', 'open'],
    ['02000000', 'none'],
  ] as const)('flags %s: %s', async (flags, expected) => {
    const fs = proc({ '77/5': ['/media/stripe/a.mov', flags] });
    expect((await ask(fs, [question(fs, '/media/stripe/a.mov', 'a.mov')])).get('a.mov')).toBe(expected);
  });

  test('the same name elsewhere is another file; pipes and sockets are none', async () => {
    const fs = proc(
      { '77/1': ['/other/a.mov', '0100001'], '77/2': ['pipe:[123]', '01'], '78/9': ['socket:[5]', '02'] },
      { '/media/a.mov': 'x' },
    );
    expect((await ask(fs, [question(fs, '/media/a.mov', 'a.mov')])).get('a.mov')).toBe('none');
  });

  test('under its other name, where it has two', async () => {
    const fs = proc({ '77/4': ['/media/b.mov', '0100001'] });
    expect((await ask(fs, [question(fs, '/media/b.mov', 'a.mov', 2)])).get('a.mov')).toBe('open');
  });

  test('many files, one look at /proc', async () => {
    const inner = proc({ '77/4': ['/m/1.mov', '0100001'], '78/4': ['/m/2.mov', '0100000'] });
    let looks = 0;
    const fs: ProcFs = {
      readdirSync: (path) => {
        if (path === '/proc') looks += 1;
        return inner.readdirSync(path);
      },
      readlinkSync: (path, options) => inner.readlinkSync(path, options) as Buffer,
      readFileSync: (path, encoding) => inner.readFileSync(path, encoding),
      statSync: (path, options) => inner.statSync(path, options),
    };
    const questions = ['1.mov', '2.mov'].map((name) => question(inner, `/m/${name}`, name));
    expect([...(await ask(fs, questions))]).toEqual([
      ['1.mov', 'open'],
      ['2.mov', 'none'],
    ]);
    expect(looks).toBe(1);
  });

  test('another person: unknown. A daemon of the system: taken not to write footage. Somebody else who is seen: open', async () => {
    const fs = proc({ '77/4': ['/m/b.mov', '0100001'], '90/0': ['/dev/null', '02'] }, { '/m/a.mov': 'x' });
    const [a, b] = [question(fs, '/m/a.mov', 'a.mov'), question(fs, '/m/b.mov', 'b.mov')];
    expect([...(await ask(hide(fs, '90', 1001n), [a, b])).values()]).toEqual(['unknown', 'open']);
    expect((await ask(hide(fs, '90', 33n), [a])).get('a.mov')).toBe('none');
    expect((await ask(hide(fs, '90', BigInt(ME)), [a])).get('a.mov')).toBe('none');
  });

  test('a /proc that cannot be read at all, and processes that end meanwhile', async () => {
    const empty = memfs().fs as unknown as ProcFs;
    expect((await ask(empty, [{ path: 'a', dev: 1n, ino: 2n, nlink: 1 }])).get('a')).toBe('none');
  });
});

test('a real writer, under a name that is no UTF-8', async () => {
  const dir = nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-writers-'));
  const name = Buffer.from([0x41, 0xff, 0x2e, 0x6d, 0x6f, 0x76]);
  const file = Buffer.concat([Buffer.from(`${dir}/`), name]);
  nodeFs.writeFileSync(file, 'x');
  const { dev, ino } = nodeFs.statSync(file, { bigint: true });
  const questions = [{ path: fromBytes(name), dev, ino, nlink: 1 }];
  const fd = nodeFs.openSync(file, 'a');
  const holder = spawn('sleep', ['60'], { stdio: ['ignore', fd, 'ignore'] });
  nodeFs.closeSync(fd);
  const real = nodeFs as unknown as ProcFs;
  const answer = async () =>
    (await inSlices(findWriters(questions, { fs: real, uid: process.geteuid?.() ?? 0, pid: process.pid }))).get(
      fromBytes(name),
    );
  try {
    expect(await answer()).toBe('open');
  } finally {
    const ended = new Promise((resolve) => holder.once('exit', resolve));
    holder.kill();
    await ended;
  }
  expect(await answer()).toBe('none');
  nodeFs.rmSync(dir, { recursive: true });
});
