import { deserialize, serialize } from 'node:v8';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { ManifestOutcome } from '../../../src/core/root-port.ts';
import {
  type ChildEvent,
  packEvent,
  packManifest,
  unpackEvent,
  unpackManifest,
} from '../../../src/rim/watch/packing.ts';

const name = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 12 }).filter((text) => !/[/\0]/.test(text));
const size = fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER });
const time = fc.bigInt({ min: -(2n ** 63n), max: 2n ** 63n - 1n });
const id = fc.bigInt({ min: 0n, max: 2n ** 64n - 1n });
const stats = {
  size,
  allocated: size,
  mtimeNs: time,
  ctimeNs: time,
  dev: id,
  ino: id,
  nlink: fc.integer({ min: 1, max: 65_000 }),
};
const dir = fc.array(name, { maxLength: 3 }).map((names) => names.join('/'));

const listing: fc.Arbitrary<ChildEvent> = fc
  .tuple(dir, fc.array(fc.record({ path: name, ...stats }), { maxLength: 5 }), fc.array(name, { maxLength: 2 }))
  .map(([folder, files, dirs]) => ({
    type: 'listing',
    dir: folder,
    files: files.map((file) => ({ ...file, path: folder === '' ? file.path : `${folder}/${file.path}` })),
    dirs,
    unreadable: [],
  }));
const part: fc.Arbitrary<ChildEvent> = fc
  .tuple(listing, fc.boolean())
  .map(([event, first]) =>
    event.type === 'listing' ? { type: 'part', dir: event.dir, first, files: event.files } : event,
  );
const touched: fc.Arbitrary<ChildEvent> = fc
  .array(
    fc.record({ path: fc.array(name, { minLength: 1, maxLength: 3 }).map((names) => names.join('/')), ...stats }),
    { maxLength: 5 },
  )
  .map((files) => ({ type: 'files', files }));
const gone: fc.Arbitrary<ChildEvent> = fc.array(name).map((paths) => ({ type: 'gone', paths }));

test('what is packed, sent and unpacked is what was', () => {
  fc.assert(
    fc.property(fc.oneof(listing, part, touched, gone), (event) => {
      expect(unpackEvent(deserialize(serialize(packEvent(event))))).toEqual(event);
    }),
  );
});

const known = fc.option(size, { nil: null });
const manifest: fc.Arbitrary<ManifestOutcome> = fc.oneof(
  fc.record({
    ok: fc.constant(true as const),
    base: dir,
    files: fc.array(fc.record({ path: name, size: known, mtimeMs: known }), { maxLength: 1200 }),
    gap: fc.option(fc.string(), { nil: null }),
  }),
  fc.constant({ ok: false, reason: 'damaged', detail: 'it ends in the middle' } as const),
);

test('so is a manifest, what is not known of its files too', () => {
  fc.assert(
    fc.property(manifest, (outcome) => {
      const steps = unpackManifest(deserialize(serialize(packManifest(outcome))));
      let step = steps.next();
      while (step.done !== true) step = steps.next();
      expect(step.value).toEqual(outcome);
    }),
    { numRuns: 30 },
  );
});
