import { expect, test } from 'vitest';
import { sumRemovals } from '../../../src/core/assess/removed.ts';

const removal = (files: number, bytes: number, footageBytes: number) => ({
  hour: 0,
  area: 'project' as const,
  project: null,
  files,
  bytes,
  footageBytes,
});

test('what one project lost to another with a name of the same content is not removed', () => {
  expect(sumRemovals([removal(3, 3030, 3000), removal(1, 1000, 1000), removal(0, -1000, -1000)])).toEqual({
    files: 4,
    bytes: 3030,
    footageBytes: 3000,
  });
  expect(sumRemovals([])).toEqual({ files: 0, bytes: 0, footageBytes: 0 });
});
