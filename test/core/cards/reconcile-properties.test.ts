import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Candidate, Inventory } from '../../../src/core/cards/inventory.ts';
import {
  expectedPlaces,
  expectedPlacesInSteps,
  reconcileAll,
  reconcileInSteps,
} from '../../../src/core/cards/reconcile.ts';
import { FILE_VERDICTS, type Reconciliation } from '../../../src/core/cards/reconciliation.ts';
import { NOON } from '../samples.ts';
import { cardOf, claimOf, copiesOf, copyOf, fileOf, HOUR, MB, reconcileAgainst, verdictsOf } from './arrived.ts';

/** Few names, sizes and times, so that much collides. */
const path = fc
  .tuple(
    fc.constantFrom('DCIM/100ABCDE', 'DCIM/101ABCDE', 'CLIP', ''),
    fc.constantFrom('A.MOV', 'a.mov', 'B.MOV', 'B.XML', 'C.wav'),
  )
  .map(([dir, name]) => (dir === '' ? name : `${dir}/${name}`));
const size = fc.constantFrom(0, 2048, 4 * MB, 5 * MB);
const time = fc.constantFrom(
  NOON - 3 * HOUR,
  NOON - 3 * HOUR + 1500,
  NOON - 2 * HOUR + 7777,
  NOON - 30 * HOUR,
  NOON + HOUR,
);

const files = fc
  .uniqueArray(fc.tuple(path, size, fc.option(time, { freq: 5 })), { selector: ([name]) => name, maxLength: 12 })
  .map((entries) => entries.map(([name, bytes, at]) => fileOf(name, bytes, at)));
const cards = fc
  .uniqueArray(fc.tuple(fc.constantFrom('a', 'b', 'c', 'd'), files), {
    selector: ([id]) => id,
    minLength: 1,
    maxLength: 4,
  })
  .map((entries) => entries.map(([id, list]) => cardOf(id, list)));
const known = fc.uniqueArray(
  fc.record({
    volume: fc.constantFrom('stripe', 'other'),
    path: fc.tuple(fc.constantFrom('Day 1', 'Day 1/A', 'Day 2'), path).map((parts) => parts.join('/')),
    size,
    mtimeMs: time,
    state: fc.constantFrom('ready', 'arriving', 'refused'),
  }) satisfies fc.Arbitrary<Candidate>,
  { selector: (one) => `${one.volume}/${one.path}`, maxLength: 30 },
);
const scenes = fc.record({ cards, known });

const foundKeys = ({ files: list }: Reconciliation) =>
  list.flatMap(({ found }) => (found === null ? [] : [`${found.volume}/${found.path}`]));

describe('reconciling anything with anything', () => {
  test('every file has exactly one verdict, and the sums are of them', () => {
    fc.assert(
      fc.property(scenes, ({ cards: inventories, known: all }) => {
        for (const [index, result] of reconcileAgainst(inventories, all).entries()) {
          expect(result.files.map(({ file }) => file)).toEqual(inventories[index]?.files);
          const tallies = Object.values(result.sums).flatMap((sums) => FILE_VERDICTS.map((verdict) => sums[verdict]));
          expect(tallies.reduce((sum, tally) => sum + tally.files, 0)).toBe(result.files.length);
          for (const { verdict, found } of result.files) {
            expect(found === null).toBe(verdict === 'missing' || verdict === 'removed');
          }
        }
      }),
    );
  });

  test('what is called arrived has the size, is ready, and is one that there is', () => {
    fc.assert(
      fc.property(scenes, ({ cards: inventories, known: all }) => {
        for (const { file, verdict, found } of reconcileAgainst(inventories, all).flatMap((result) => result.files)) {
          if (verdict !== 'arrived' && verdict !== 'arrived-renamed') continue;
          expect(all).toContain(found);
          expect(found).toMatchObject({ size: file.size, state: 'ready' });
        }
      }),
    );
  });

  test('no copy stands for two files, of one card or of two', () => {
    fc.assert(
      fc.property(scenes, ({ cards: inventories, known: all }) => {
        const results = reconcileAgainst(inventories, all);
        // At the same place several cards may see a file that is none of theirs.
        const taken = results.map((result) => ({
          ...result,
          files: result.files.filter(({ verdict, found, file }) => verdict !== 'differs' && found?.size === file.size),
        }));
        const keys = taken.flatMap(foundKeys);
        expect(keys.length).toBe(new Set(keys).size);
      }),
    );
  });

  test('the order of cards, files and copies changes nothing', () => {
    const shuffled = scenes.chain((scene) =>
      fc.record({
        scene: fc.constant(scene),
        cards: fc.shuffledSubarray(scene.cards, { minLength: scene.cards.length }),
        known: fc.shuffledSubarray(scene.known, { minLength: scene.known.length }),
        turn: fc.nat(11),
      }),
    );
    const turned = (inventory: Inventory, turn: number): Inventory => {
      const { files: list } = inventory;
      return { ...inventory, files: [...list.slice(turn), ...list.slice(0, turn)].reverse() };
    };
    const byId = (results: Reconciliation[]) =>
      new Map(
        results.map((result) => [result.inventory.id, { verdicts: verdictsOf(result), deliveries: result.deliveries }]),
      );
    fc.assert(
      fc.property(shuffled, ({ scene, cards: other, known: copies, turn }) => {
        const again = reconcileAgainst(
          other.map((card) => turned(card, turn)),
          copies,
        );
        expect(byId(again)).toEqual(byId(reconcileAgainst(scene.cards, scene.known)));
      }),
    );
  });

  test('a card copied whole has arrived; without one of its copies exactly that file is missing', () => {
    const oneCard = files
      .filter((list) => list.some((file) => (file.size ?? 0) > MB))
      .map((list) => {
        // One name in two cases is no card: FAT does not tell them apart.
        const names = new Map(
          list.map((file) => [file.path.toLowerCase(), { ...file, mtimeMs: file.mtimeMs ?? NOON }]),
        );
        return cardOf('a', [...names.values()]);
      });
    fc.assert(
      fc.property(oneCard, fc.nat(), (card, pick) => {
        const copies = copiesOf(card, 'Day 1/Card');
        const [whole] = reconcileAgainst([card], copies);
        expect(whole?.files.every(({ verdict }) => verdict === 'arrived')).toBe(true);
        const gone = pick % copies.length;
        const [less] = reconcileAgainst(
          [card],
          copies.filter((_, index) => index !== gone),
        );
        const lost = less?.files.filter(({ verdict }) => verdict !== 'arrived');
        expect(lost).toMatchObject([{ verdict: 'missing', file: card.files[gone] }]);
      }),
    );
  });
});

test('a large card and many alike are reconciled in a moment', () => {
  const frames = (card: number) =>
    Array.from({ length: 12_000 }, (_, index) =>
      fileOf(
        `CLIP_${index % 7}/frame_${String(index).padStart(6, '0')}.dng`,
        8 * MB,
        NOON - card * HOUR + index * 40 + 333,
      ),
    );
  const cards = [1, 2, 3].map((card) => cardOf(`card ${card}`, frames(card)));
  const copies = cards.flatMap((card) => copiesOf(card, `Day 1/${card.id}`));
  // As the catalogue would give them: every card's frames have the same names and sizes.
  const perName = new Map<string, Candidate[]>();
  for (const copy of copies) {
    const name = copy.path.slice(copy.path.lastIndexOf('/'));
    perName.set(name, [...(perName.get(name) ?? []), copy]);
  }
  const claims = cards.map((inventory) => ({
    inventory,
    candidates: inventory.files.map((file) => perName.get(file.path.slice(file.path.lastIndexOf('/'))) ?? []),
  }));
  const begun = performance.now();
  const results = reconcileAll(claims);
  const places = expectedPlaces(claims);
  expect(performance.now() - begun).toBeLessThan(10_000);
  expect(places).toEqual([]);
  // And can let others have their turn meanwhile, often.
  expect([...reconcileInSteps(claims, [])].length).toBeGreaterThan(100);
  expect([...expectedPlacesInSteps(claims)].length).toBeGreaterThan(100);
  for (const [index, result] of results.entries()) {
    expect(result.files.every(({ verdict }) => verdict === 'arrived')).toBe(true);
    expect(result.deliveries).toEqual([{ volume: 'stripe', folder: `Day 1/${cards[index]?.id}`, files: 12_000 }]);
  }
});

test('claims of nothing give nothing', () => {
  expect(reconcileAll([], [copyOf('a', 1)])).toEqual([]);
  expect(reconcileAll([claimOf(cardOf('a', []), [])])).toMatchObject([{ files: [], deliveries: [] }]);
});
