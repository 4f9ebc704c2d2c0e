import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Log } from '../../../src/core/ports.ts';
import { createIngestFlow, type IngestFlow } from '../../../src/daemon/intake/ingest-flow.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { filesBelow, unfinishedOf } from '../../contracts/catalogue.material.ts';
import { runs } from '../../effort.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { fakeRoot } from '../../fakes/root.ts';

/** Few places, so that files and folders meet, replace each other and come back often. */
const dirs = fc.constantFrom('P', 'P/a', 'P/a/x', 'P/b', 'Q');
const files = fc
  .record({ dir: dirs, name: fc.constantFrom('1.mov', '2.mov', '1.xml', 'f_0001.dpx', 'f_0002.dpx', 'f_0003.dpx') })
  .map(({ dir, name }) => `${dir}/${name}`);
const seen = fc.boolean();
const steps = fc.oneof(
  fc.record({ do: fc.constant('put' as const), path: files, size: fc.integer({ min: 1, max: 99 }), seen }),
  fc.record({ do: fc.constant('put' as const), path: files, size: fc.integer({ min: 1, max: 99 }), seen }),
  fc.record({ do: fc.constant('rename' as const), from: files, to: files, seen }),
  fc.record({ do: fc.constant('rename' as const), from: dirs, to: fc.constantFrom('P/c', 'P/d', 'R', 'P/a/y'), seen }),
  fc.record({ do: fc.constant('remove' as const), path: fc.oneof(files, dirs) }),
  fc.record({ do: fc.constant('sweep' as const) }),
  fc.record({ do: fc.constant('restart' as const) }),
  fc.record({ do: fc.constant('away' as const) }),
);
const histories = fc.array(fc.record({ step: steps, wait: fc.constantFrom(0, 0, 100, 700, 2500, 15_000) }), {
  minLength: 1,
  maxLength: 30,
});

test('after any history of writing, renaming, deleting, absence and restarts all is known as it is, and nothing else', async () => {
  await fc.assert(
    fc.asyncProperty(histories, async (history) => {
      const clock = fakeClock(1_804_183_200_000);
      const root = fakeRoot();
      const catalogue = fakeCatalogue(fakeLedger(), clock.now);
      const there = new Map<string, number>();
      let lost = 0;
      let removed = 0;
      let unseen = 0;
      const keep = (fields: object) => {
        if ('event' in fields && fields.event === 'gone' && 'bytes' in fields) lost += Number(fields.bytes);
      };
      const wrong: string[] = [];
      const log: Log = { debug: keep, info: keep, warn() {}, error: (_, message) => void wrong.push(message) };
      const begin = async (): Promise<IngestFlow> => {
        const settings = settingsForFolders(['/media/stripe']);
        const volume = { ...(settings.volumes[0] as (typeof settings.volumes)[number]), projects: '*' };
        const trouble = createStoreTrouble(clock, log);
        const limits = settings.arrivals;
        const told = { ruleTold() {}, touched() {}, arrivalsChanged() {}, noticed() {}, swept() {} };
        const flow = createIngestFlow({ volume, limits, root, catalogue, trouble, clock, log, ...told });
        await flow.start();
        return flow;
      };
      const below = (path: string) => [...there.keys()].filter((one) => one === path || one.startsWith(`${path}/`));
      // A volume that is empty from one moment to the next may be another one, and is held for it.
      root.putUnseen('README.txt', { size: 1 });
      there.set('README.txt', 1);
      let flow = await begin();
      for (const { step, wait } of history) {
        if (step.do === 'put') {
          removed += there.get(step.path) ?? 0;
          there.set(step.path, step.size);
          (step.seen ? root.put : root.putUnseen)(step.path, { size: step.size });
        } else if (step.do === 'rename') {
          const moved = below(step.from);
          const over = below(step.to);
          const fileOverFile = there.has(step.from) && over.length <= 1 && (over.length === 0 || there.has(step.to));
          const intoItself = step.to === step.from || step.to.startsWith(`${step.from}/`);
          if (moved.length === 0 || intoItself || !(fileOverFile || over.length === 0)) continue;
          removed += there.get(step.to) ?? 0;
          if (!step.seen) unseen += moved.reduce((sum, path) => sum + (there.get(path) ?? 0), 0);
          for (const path of moved) {
            there.set(step.to + path.slice(step.from.length), there.get(path) ?? 0);
            there.delete(path);
          }
          (step.seen ? root.rename : root.renameUnseen)(step.from, step.to);
        } else if (step.do === 'remove') {
          for (const path of below(step.path)) {
            removed += there.get(path) ?? 0;
            there.delete(path);
          }
          root.remove(step.path);
        } else if (step.do === 'sweep') await root.sweep();
        else if (step.do === 'away') {
          root.setState('absent', 'it was pulled out');
          await clock.advance(3000);
          root.setState('live');
        } else {
          await flow.stop();
          flow = await begin();
        }
        if (wait > 0) await clock.advance(wait);
      }
      await clock.advance(1000);
      await root.sweep();
      await clock.advance(60_000);
      expect(wrong).toEqual([]);
      const known = await filesBelow(catalogue, 'stripe', ['']);
      expect(known.map(({ path, size, state }) => [path, size, state]).sort()).toEqual(
        [...there].map(([path, size]) => [path, size, 'ready']).sort(),
      );
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([]);
      // Every picture is a clip, whatever became of it in between.
      const pictures = [...there.keys()].filter((path) => path.endsWith('.mov')).sort();
      const clips = (await catalogue.clips({})).map(({ paths }) => paths[0] ?? '');
      expect(clips.filter((path) => path.endsWith('.mov')).sort()).toEqual(pictures);
      // What was told as lost was deleted or written over, or nobody saw where it went.
      expect(lost).toBeLessThanOrEqual(removed + unseen);
      await flow.stop();
    }),
    { numRuns: runs(150) },
  );
}, 120_000);
