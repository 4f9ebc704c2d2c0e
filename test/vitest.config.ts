import { defineConfig } from 'vitest/config';
import { effort } from './effort.ts';

/**
 * Three projects: `unit` (pure rooms, fakes, small files; part of `npm run check`), and in `npm test` only `real`
 * (adapters on real databases, workers, mounts) and `whole` (the program as a process, outside opinions; two at a time).
 */
export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    projects: [
      {
        test: {
          name: 'unit',
          setupFiles: ['test/effort.ts'],
          include: ['test/{core,settings,settings-wrong,daemon,cli,stories,house}/**/*.test.ts'],
          // Weeks on a clock that we turn take a while all the same.
          exclude: ['test/stories/long-*.test.ts', 'test/daemon/**/real-*.test.ts'],
          // What is pure keeps nothing from one file to the next: a fresh process for each would take most of the time.
          isolate: false,
          maxWorkers: 2,
          // Random tests on a machine that does much else.
          testTimeout: 40_000 * effort,
        },
      },
      {
        test: {
          name: 'real',
          setupFiles: ['test/effort.ts'],
          include: [
            'test/{rim,contracts}/**/*.test.ts',
            'test/stories/long-*.test.ts',
            'test/daemon/**/real-*.test.ts',
          ],
          testTimeout: 60_000 * effort,
          hookTimeout: 60_000 * effort,
        },
      },
      {
        test: {
          name: 'whole',
          include: ['test/{outside,process}/**/*.test.ts'],
          testTimeout: 120_000 * effort,
          hookTimeout: 120_000 * effort,
          // They wait most of the time; more at once would load the machine and make the waiting longer.
          maxWorkers: 2,
        },
      },
    ],
    coverage: {
      provider: 'v8',
      include: ['src/core/**/*.ts'],
      reporter: ['text-summary'],
      reportsDirectory: 'coverage',
      // Below this something in core is not tried at all; that it is tried well, coverage cannot tell.
      thresholds: { statements: 97, branches: 92, functions: 98, lines: 98 },
    },
  },
});
