import { defineConfig } from 'vitest/config';

/**
 * Two projects: `unit` (pure rooms, fakes, small files; part of `npm run check`) and `whole` (real processes, real
 * media, real mounts; part of `npm test` only).
 */
export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    projects: [
      {
        test: {
          name: 'unit',
          include: ['test/{core,settings,settings-wrong,rim,daemon,cli,contracts,house}/**/*.test.ts'],
          testTimeout: 15_000,
        },
      },
      {
        test: {
          name: 'whole',
          include: ['test/{stories,outside,golden,process}/**/*.test.ts'],
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
