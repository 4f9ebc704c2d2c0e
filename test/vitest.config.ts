import { defineConfig } from 'vitest/config';

/**
 * Three projects: `unit` (pure rooms, fakes, small files; part of `npm run check`), and in `npm test` only `real`
 * (adapters on real databases, workers, mounts) and `whole` (the program as a process, outside opinions; one at a time).
 */
export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    projects: [
      {
        test: {
          name: 'unit',
          include: ['test/{core,settings,settings-wrong,daemon,cli,stories,house}/**/*.test.ts'],
          testTimeout: 15_000,
        },
      },
      {
        test: {
          name: 'real',
          include: ['test/{rim,contracts}/**/*.test.ts'],
          testTimeout: 60_000,
          hookTimeout: 60_000,
        },
      },
      {
        test: {
          name: 'whole',
          include: ['test/{outside,process}/**/*.test.ts'],
          testTimeout: 120_000,
          hookTimeout: 120_000,
          fileParallelism: false,
        },
      },
    ],
    coverage: {
      provider: 'v8',
      include: ['src/core/**/*.ts'],
      reporter: ['text-summary'],
      reportsDirectory: 'coverage',
    },
  },
});
