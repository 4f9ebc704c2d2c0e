import { spawnSync } from 'node:child_process';
import { chmodSync, copyFileSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));
let scratch: string;

beforeEach(() => {
  scratch = mkdtempSync(join(tmpdir(), 'headroomd launcher '));
});
afterEach(() => rmSync(scratch, { recursive: true, force: true }));

function start(program: string, args: string[], env: Record<string, string> = {}) {
  return spawnSync(program, args, {
    cwd: scratch,
    encoding: 'utf8',
    env: { PATH: '/usr/bin:/bin', HOME: scratch, ...env },
  });
}

/** A checkout without the pinned runtime, and a `node` on the path that calls itself `version` and notes being run. */
function strangePlatform(version: string | null, packages = true): { program: string; path: string } {
  const tree = join(scratch, 'tree');
  mkdirSync(join(tree, 'src'), { recursive: true });
  mkdirSync(join(tree, packages ? 'node_modules/pino' : 'node_modules'), { recursive: true });
  copyFileSync(join(root, 'package.json'), join(tree, 'package.json'));
  copyFileSync(join(root, 'src/headroomd'), join(tree, 'src/headroomd'));
  const bin = join(scratch, 'bin');
  mkdirSync(bin);
  for (const tool of ['sed', 'head', 'sort', 'dirname', 'readlink', 'printf'])
    symlinkSync(`/usr/bin/${tool}`, join(bin, tool));
  if (version !== null) {
    writeFileSync(
      join(bin, 'node'),
      `#!/bin/sh\nif [ "$1" = --version ]; then echo ${version}; else echo "ran $*"; fi\n`,
    );
    chmodSync(join(bin, 'node'), 0o755);
  }
  return { program: join(tree, 'src/headroomd'), path: bin };
}

describe('the launcher', () => {
  test('runs from any folder', () => {
    const done = start(join(root, 'src/headroomd'), ['--version']);
    expect(done.stderr).toBe('');
    expect(done.stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });

  test('runs through a chain of links, absolute and relative', () => {
    symlinkSync(join(root, 'src/headroomd'), join(scratch, 'first'));
    symlinkSync('first', join(scratch, 'second'));
    expect(start(join(scratch, 'second'), ['--version']).stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });

  test('takes a system Node that is new enough where the pinned one is not to be had', () => {
    const { program, path } = strangePlatform('v26.10.0');
    expect(start(program, ['status', 'a b'], { PATH: path }).stdout).toMatch(/^ran .*src\/main\.ts status a b\n$/);
    rmSync(join(scratch, 'bin'), { recursive: true });
    const newer = strangePlatform('v27.0.1');
    expect(start(newer.program, ['run'], { PATH: newer.path }).stdout).toMatch(/^ran /);
  });

  test.each(['v20.20.2', 'v26.9.9', 'v9.0.0'])('never runs a system Node that is too old: %s', (version) => {
    const { program, path } = strangePlatform(version);
    const done = start(program, ['run'], { PATH: path });
    expect(done.status).toBe(1);
    expect(done.stdout).toBe('');
    expect(done.stderr).toMatch(/^headroomd: found Node [\d.]+ at .*, needs 26\.10\.0 or newer: install that.*\n$/);
  });

  test('says in one line what to install where there is no Node', () => {
    const { program, path } = strangePlatform(null);
    const done = start(program, ['run'], { PATH: path });
    expect(done.status).toBe(1);
    expect(done.stderr).toMatch(/^headroomd: no runtime found: install Node 26\.10\.0 or newer.*\n$/);
  });

  test('says to run npm ci where the packages are missing', () => {
    const { program, path } = strangePlatform('v26.10.0', false);
    expect(start(program, ['run'], { PATH: path }).stderr).toMatch(
      /^headroomd: its packages are not installed: run 'npm ci' in .*\n$/,
    );
  });
});
