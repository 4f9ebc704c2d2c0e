import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

/** A layer rule that never fires is worse than none: each is planted in a copy of the tree and must be caught. */
const root = fileURLToPath(new URL('../..', import.meta.url));
let copy: string;

beforeAll(() => {
  copy = mkdtempSync(join(tmpdir(), 'headroomd-layers-'));
  for (const part of ['src', 'biome.json', 'package.json', 'tsconfig.json', '.gitignore']) {
    cpSync(join(root, part), join(copy, part), { recursive: true });
  }
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'));
  spawnSync('git', ['init', '-q'], { cwd: copy });
});

afterAll(() => rmSync(copy, { recursive: true, force: true }));

function lint(path: string): { status: number | null; output: string } {
  const done = spawnSync('biome', ['lint', '--error-on-warnings', '--max-diagnostics=50', path], {
    cwd: copy,
    encoding: 'utf8',
  });
  return { status: done.status, output: done.stdout + done.stderr };
}

function planted(path: string, source: string): { status: number | null; output: string } {
  const file = join(copy, path);
  writeFileSync(file, source);
  try {
    return lint(path);
  } finally {
    rmSync(file);
  }
}

const violations: readonly (readonly [what: string, path: string, source: string])[] = [
  [
    'core imports a rim room',
    'src/core/intake/planted.ts',
    "import { systemClock } from '../../rim/system/clock.ts';\nexport const a = systemClock;\n",
  ],
  [
    'core imports a type of a rim room',
    'src/core/planted.ts',
    "import type { Door } from '../rim/web/doors.ts';\nexport type A = Door;\n",
  ],
  [
    'core imports a built-in',
    'src/core/planted.ts',
    "import { readFileSync } from 'node:fs';\nexport const a = readFileSync;\n",
  ],
  [
    'core imports a built-in without node:',
    'src/core/planted.ts',
    "import { readFileSync } from 'fs';\nexport const a = readFileSync;\n",
  ],
  ['core imports a package', 'src/core/planted.ts', "import { pino } from 'pino';\nexport const a = pino;\n"],
  [
    'core imports a flow',
    'src/core/planted.ts',
    "import { createLifecycle } from '../daemon/lifecycle.ts';\nexport const a = createLifecycle;\n",
  ],
  [
    'the page imports a rim room',
    'src/page/planted.ts',
    "import { createAsset } from '../rim/web/assets.ts';\nexport const a = createAsset;\n",
  ],
  [
    'the page imports a built-in',
    'src/page/planted.ts',
    "import { readFileSync } from 'node:fs';\nexport const a = readFileSync;\n",
  ],
  ['core imports the page', 'src/core/planted.ts', "import { all } from '../page/patch.ts';\nexport const a = all;\n"],
  ['core imports dynamically', 'src/core/planted.ts', "export const a = () => import('node:fs');\n"],
  ['core asks the clock', 'src/core/planted.ts', 'export const a = () => Date.now();\n'],
  ['core sets a timer', 'src/core/planted.ts', 'export const a = () => setTimeout(() => undefined, 1);\n'],
  [
    'a rim room imports its sister',
    'src/rim/web/planted.ts',
    "import { systemClock } from '../system/clock.ts';\nexport const a = systemClock;\n",
  ],
  [
    'a rim room imports a flow',
    'src/rim/web/planted.ts',
    "import { createLifecycle } from '../../daemon/lifecycle.ts';\nexport const a = createLifecycle;\n",
  ],
  [
    'a flow imports an adapter',
    'src/daemon/planted.ts',
    "import { systemClock } from '../rim/system/clock.ts';\nexport const a = systemClock;\n",
  ],
  [
    'a verb imports an adapter',
    'src/cli/planted.ts',
    "import { systemClock } from '../rim/system/clock.ts';\nexport const a = systemClock;\n",
  ],
  [
    'settings import the rim',
    'src/settings/planted.ts',
    "import { systemClock } from '../rim/system/clock.ts';\nexport const a = systemClock;\n",
  ],
];

describe('the layer lint', () => {
  test('passes on the tree as it is', () => {
    const { status, output } = lint('src');
    expect(output).toMatch(/Checked [1-9]\d* files/);
    expect(status, output).toBe(0);
  });

  test.each(violations)('catches: %s', (_what, path, source) => {
    const { status, output } = planted(path, source);
    expect(dirname(path)).not.toBe('');
    expect(status).not.toBe(0);
    expect(output).toMatch(/noRestrictedImports|noRestrictedGlobals/);
  });

  test('catches two files that import each other', () => {
    writeFileSync(
      join(copy, 'src/core/planted-a.ts'),
      "import { b } from './planted-b.ts';\nexport const a = () => b;\n",
    );
    writeFileSync(
      join(copy, 'src/core/planted-b.ts'),
      "import { a } from './planted-a.ts';\nexport const b = () => a;\n",
    );
    const { status, output } = lint('src/core');
    rmSync(join(copy, 'src/core/planted-a.ts'));
    rmSync(join(copy, 'src/core/planted-b.ts'));
    expect(status).not.toBe(0);
    expect(output).toContain('noImportCycles');
  });
});
