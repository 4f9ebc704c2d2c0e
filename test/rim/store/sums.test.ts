import { join } from 'node:path';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Area, FileRecord, Kind } from '../../../src/core/model.ts';
import type { CataloguePort, Move } from '../../../src/core/store-ports.ts';
import { clipOf, someFile, statOf, unfinishedOf } from '../../contracts/catalogue.material.ts';
import { effort, runs } from '../../effort.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { stateFolders, storedAndRecounted } from './state-folder.ts';

const { folder, open } = stateFolders();

/** Few names, inodes and units, so that replacing, moving, linking and forgetting meet each other often. */
const paths = fc.constantFrom(
  'a',
  'a/1',
  'a/2',
  'a-b/1',
  'a/x/1',
  'a/x/2',
  'a0/1',
  'top',
  'a/\u00e9',
  'a/\u{1f3ac}',
  'a/\uf7ff',
  'a/3.mov',
  'a/x/3.mov',
  'a/3.xml',
  'a/f_0001.dpx',
  'a/f_0002.dpx',
  'a0/f_0003.dpx',
);
const files = fc
  .record({
    path: paths,
    volume: fc.constantFrom('stripe', 'shelf-a'),
    size: fc.integer({ min: 0, max: 2 ** 40 }),
    mtimeNs: fc.constantFrom(1n, 2n),
    ino: fc.constantFrom(1n, 2n, 2n ** 63n + 5n),
    dev: fc.constantFrom(1n, 2n),
    nlink: fc.constantFrom(1, 1, 2, 3),
    area: fc.constantFrom<Area>('project', 'trash', 'system'),
    project: fc.constantFrom('Saltmarsh', '', null),
    kind: fc.constantFrom<Kind>('original', 'sound', 'still', 'proxy', 'sidecar'),
    unit: fc.constantFrom('u1', 'u2', 'u3'),
    state: fc.constantFrom<FileRecord['state']>('arriving', 'ready', 'refused'),
  })
  .map(({ path, ...changes }) => someFile(path, changes));
const facts = fc.record({
  codec: fc.constantFrom('ProRes 422 HQ', null),
  frameRate: fc.constantFrom({ num: 25, den: 1 }, { num: 50, den: 2 }, { num: 24_000, den: 1001 }, null),
  durationSeconds: fc.oneof(fc.constant(null), fc.double({ min: 0, max: 1e5, noNaN: true })),
});
const volumes = fc.constantFrom('stripe', 'shelf-a');
const placed = fc.record({
  area: fc.constantFrom<Area>('project', 'project', 'trash'),
  project: fc.constantFrom('Saltmarsh', '', null),
  kind: fc.constantFrom<Kind>('original', 'original', 'sound', 'still', 'sidecar'),
  unit: fc.constantFrom('u1', 'u2', 'u3'),
  state: fc.constantFrom<FileRecord['state']>('ready', 'ready', 'ready', 'arriving'),
});
const steps = fc.oneof(
  fc.record({ put: fc.array(files, { maxLength: 6 }) }),
  fc.record({ finish: fc.array(files, { minLength: 1, maxLength: 3 }), facts: fc.option(facts), readyAt: fc.nat(100) }),
  fc.record({
    forget: fc.array(fc.oneof(paths, fc.constant('')), { maxLength: 2 }),
    only: fc.constantFrom(undefined, undefined, 'renamed' as const, 'files' as const),
    volume: volumes,
  }),
  fc.record({
    /** Each of the files that are known by then, counted through, under another path. */
    move: fc.array(fc.record({ nth: fc.nat(20), to: paths, placed }), { minLength: 1, maxLength: 4 }),
    volume: volumes,
  }),
  fc.record({
    list: fc.constantFrom('', 'a', 'a/x'),
    seen: fc.array(files, { maxLength: 3 }),
    dirs: fc.subarray(['a', 'a/x', 'a0', 'a-b']),
    volume: volumes,
  }),
);
/** Milliseconds before each step: sometimes longer than the first sighting of what went is kept. */
const timed = fc.record({ step: steps, after: fc.constantFrom(1, 1, 1, 30 * 3_600_000) });
type Step = typeof steps extends fc.Arbitrary<infer Value> ? Value : never;

/** The folder that something lies in; a listing names its own content only. */
function parentOf(dir: string): string {
  return dir.includes('/') ? dir.slice(0, dir.lastIndexOf('/')) : '';
}

async function movesOf(catalogue: CataloguePort, step: Extract<Step, { move: unknown }>): Promise<Move[]> {
  const known = await catalogue.filesOfUnits(step.volume, ['u1', 'u2', 'u3']);
  return step.move.flatMap(({ nth, to, placed }) => {
    const file = known[nth % known.length];
    return file === undefined ? [] : [{ from: file.path, file: { ...file, ...placed, path: to, ctimeNs: 9n } }];
  });
}

async function run(catalogue: CataloguePort, step: Step): Promise<unknown> {
  if ('put' in step) return catalogue.putFiles(step.put);
  if ('forget' in step) return catalogue.forget(step.volume, step.forget, step.only);
  if ('move' in step) return catalogue.moveFiles(step.volume, await movesOf(catalogue, step));
  if ('list' in step) {
    const { gone, ...diff } = await catalogue.compareListing(
      step.volume,
      step.list,
      step.seen.filter(({ path }) => parentOf(path) === step.list).map((file) => statOf(file)),
      // No name is a file's and a folder's at once.
      step.dirs.filter((dir) => parentOf(dir) === step.list && !step.seen.some(({ path }) => path === dir)),
    );
    return { ...diff, gone: gone.sort() };
  }
  const [first] = step.finish;
  if (first === undefined) return null;
  const unit = step.finish.map((file) => ({ ...file, unit: first.unit, volume: first.volume }));
  const clip = step.facts === null ? null : clipOf(unit, step.facts, { readyAt: step.readyAt });
  return catalogue.finishUnit(first.volume, first.unit, unit, clip === null ? [] : [clip]);
}

test(
  'after any history: same answers as a plain recount in memory, sums as counted again by SQL',
  async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(timed, { minLength: 1, maxLength: 25 }), async (history) => {
        const stateDir = folder();
        let now = 0;
        const { catalogue, close } = await open(stateDir, () => now);
        const model = fakeCatalogue(fakeLedger(), () => now);
        for (const { step, after } of history) {
          now += after;
          expect(await run(catalogue, step)).toEqual(await run(model, step));
          expect(await catalogue.projects(1)).toEqual(await model.projects(1));
          expect(await catalogue.clips({})).toEqual(await model.clips({}));
        }
        expect(await catalogue.counts()).toEqual(await model.counts());
        for (const volume of ['stripe', 'shelf-a']) {
          expect(await unfinishedOf(catalogue, volume)).toEqual(await unfinishedOf(model, volume));
          for (const unit of ['u1', 'u2', 'u3']) {
            expect(await catalogue.filesOfUnits(volume, [unit])).toEqual(await model.filesOfUnits(volume, [unit]));
          }
        }
        await close();
        const { stored, recounted } = storedAndRecounted(join(stateDir, 'catalogue.db'));
        expect(stored).toEqual(recounted);
      }),
      { numRuns: runs(40) },
    );
  },
  60_000 * effort,
);
