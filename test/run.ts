import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { canDoAll, ensurePackages } from './packages.ts';

/**
 * The test command. `check`: types, lint with layers, unused code, unit tests; under a minute. `all`: that, and the
 * tests with real processes and real media. `long`: all, with random tests and kills twenty times as many.
 * Ends with one line `N passed, N failed, N skipped`.
 */
interface Step {
  name: string;
  command: string;
  args: string[];
}

interface Counts {
  passed: number;
  failed: number;
  skipped: number;
}

const house: Step[] = [
  { name: 'types', command: 'tsc', args: ['-p', '.'] },
  { name: 'types of the page', command: 'tsc', args: ['-p', 'src/page'] },
  { name: 'lint and layers', command: 'biome', args: ['check', '--error-on-warnings', '.'] },
  { name: 'unused code', command: 'knip', args: ['--no-progress'] },
];

function vitest(project: string, counts: string, extra: string[] = []): Step {
  return {
    name: `${project} tests`,
    command: 'vitest',
    args: [
      ...['run', '--config', 'test/vitest.config.ts', '--project', project],
      ...['--reporter', 'default', '--reporter', 'json', '--outputFile.json', counts],
      ...extra,
    ],
  };
}

function run(step: Step): Promise<{ step: Step; code: number; output: string; seconds: number }> {
  const began = performance.now();
  return new Promise((resolve) => {
    const child = spawn(step.command, step.args, {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, FORCE_COLOR: '0' },
    });
    let output = '';
    for (const stream of [child.stdout, child.stderr])
      stream.on('data', (chunk) => {
        output += chunk;
      });
    child.on('error', (error) => resolve({ step, code: 127, output: `${step.command}: ${error.message}`, seconds: 0 }));
    child.on('close', (code) =>
      resolve({ step, code: code ?? 1, output, seconds: (performance.now() - began) / 1000 }),
    );
  });
}

async function runAndTell(step: Step): Promise<boolean> {
  const { code, output, seconds } = await run(step);
  if (code !== 0 || step.command === 'vitest') console.log(output.trimEnd());
  console.log(`${code === 0 ? 'ok' : 'FAILED'}: ${step.name} (${seconds.toFixed(1)} s)`);
  return code === 0;
}

function countsIn(file: string): Counts {
  const told = JSON.parse(readFileSync(file, 'utf8'));
  return {
    passed: told.numPassedTests,
    failed: told.numFailedTests,
    skipped: told.numPendingTests + told.numTodoTests,
  };
}

async function main(what: string | undefined): Promise<number> {
  if (what !== 'check' && what !== 'all' && what !== 'long') {
    console.error('usage: node test/run.ts check|all|long');
    return 2;
  }
  if (what === 'long') process.env['HEADROOMD_EFFORT'] ??= '20';
  const whole = what !== 'check';
  if (whole && !ensurePackages()) return 1;
  const scratch = mkdtempSync(join(tmpdir(), 'headroomd-tests-'));
  try {
    const unit = join(scratch, 'unit.json');
    const suites = [unit];
    let good = (await Promise.all(house.map(runAndTell))).every(Boolean);
    good = (await runAndTell(vitest('unit', unit, whole ? ['--coverage'] : []))) && good;
    if (whole) {
      for (const project of ['real', 'whole']) {
        const counts = join(scratch, `${project}.json`);
        suites.push(counts);
        good = (await runAndTell(vitest(project, counts))) && good;
      }
    }
    const sum = suites
      .map(countsIn)
      .reduce((a, b) => ({ passed: a.passed + b.passed, failed: a.failed + b.failed, skipped: a.skipped + b.skipped }));
    console.log(`${sum.passed} passed, ${sum.failed} failed, ${sum.skipped} skipped`);
    const unchecked = whole && sum.skipped > 0 && canDoAll();
    if (unchecked) console.error('FAILED: on a machine with all rights and devices no test may be skipped.');
    return good && !unchecked && sum.passed > 0 && sum.failed === 0 ? 0 : 1;
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

process.exitCode = await main(process.argv[2]);
