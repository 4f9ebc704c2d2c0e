import { expect, test } from 'vitest';
import { createLookedThrough } from '../../../src/daemon/assess/looked-through.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';

const log = { debug() {}, info() {}, warn() {}, error() {} };

test('a volume is looked through once it was read from end to end, and over restarts; with a new catalogue it is not', async () => {
  const [settings] = settingsForFolders(['/media/stripe']).volumes;
  if (settings === undefined) throw new Error('there is one');
  let isRead = false;
  const volumes = [{ settings, complete: () => isRead }];
  const catalogue = fakeCatalogue();
  const first = createLookedThrough(catalogue, volumes, log);
  await first.start();
  expect(first.has(settings.name)).toBe(false);
  isRead = true;
  expect(first.has(settings.name)).toBe(true);
  isRead = false;
  const again = createLookedThrough(catalogue, volumes, log);
  await again.start();
  expect([again.has(settings.name), again.has('another')]).toEqual([true, false]);
  const anew = createLookedThrough(fakeCatalogue(), volumes, log);
  await anew.start();
  expect(anew.has(settings.name)).toBe(false);
});
