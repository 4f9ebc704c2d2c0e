import { describe, expect, test } from 'vitest';
import type { Sums } from '../../../src/core/backup/sums.ts';
import { checkCardList, listedPlaces } from '../../../src/core/cards/card-list-check.ts';
import type { Candidate } from '../../../src/core/cards/inventory.ts';
import type { ArrivedVersion, KnownList, KnownListed } from '../../../src/core/cards/known-list.ts';
import { cardOf, copiesOf, copyOf, fileOf, MB, reconcileAgainst } from './arrived.ts';

/** MD5 of "a" and "abc" (RFC 1321, A.5): only that they differ matters here. */
const A = '0cc175b9c0f1b6a831c399e269772661';
const ABC = '900150983cd24fb0d6963f7d28e17f72';

const CARD = cardOf(
  'salt',
  [1, 2, 3].map((n) => fileOf(`DCIM/100SALTM/A00${n}.MOV`, (20 + n) * MB)),
);
const HOME = 'Saltmarsh/SALT_A';
const COPIES = copiesOf(CARD, HOME);

const listed = (path: string, sums: Sums = { md5: A }): KnownListed => ({ path, size: null, sums });
const ALL = ['A001.MOV', 'A002.MOV', 'A003.MOV'].map((name) => listed(`DCIM/100SALTM/${name}`));
const version = ({ volume, path, size, state }: Candidate, sums: Sums = { md5: A }): ArrivedVersion => ({
  ...{ volume, path, size, mtimeNs: 1n, isArriving: state === 'arriving', sums, changedSince: false },
});

/** The card's list beside these copies, with what lies at other places besides. */
function check(
  files: KnownListed[],
  copies: readonly Candidate[],
  { base = '', now = copies.map((copy) => version(copy)), kind = 'history' as KnownList['kind'] } = {},
) {
  const [reconciliation] = reconcileAgainst([CARD], copies);
  if (reconciliation === undefined) throw new Error('one inventory gives one reconciliation');
  const list: KnownList = { kind, files, ignore: [] };
  const where = listedPlaces(list, base, reconciliation);
  const places = new Set(
    [...where.values()].flatMap((one) => one.places.map(({ volume, path }) => `${volume} ${path}`)),
  );
  const there = now.filter(({ volume, path }) => places.has(`${volume} ${path}`));
  return checkCardList({ list, base, where, now: there }, 'mark', 5);
}

describe('a list on a card beside what arrived of it', () => {
  test('wherever it arrived: on other volumes, in other folders, under other names and cases', () => {
    const [one, two, three] = COPIES as [Candidate, Candidate, Candidate];
    const copies = [
      { ...one, volume: 'mirror', path: 'Lock Keepers/flat/A001.MOV' },
      { ...two, path: `${HOME}/dcim/100saltm/a002.mov` },
      { ...three, path: 'Saltmarsh/heron.mov' },
    ];
    expect(check(ALL, copies).check).toMatchObject({ files: 3, intact: 3, altered: 0, missing: 0, notOnCard: 0 });
    expect(
      check(
        ALL.map(({ path }) => listed(path.toLowerCase())),
        copies,
      ).check,
    ).toMatchObject({ intact: 3 });
  });

  test('what is altered is told with its place; what is not known is to be read where it lies', () => {
    const [one, two, three] = COPIES as [Candidate, Candidate, Candidate];
    const now = [version(one), version(two, { md5: ABC }), version(three, {})];
    const result = check(ALL, COPIES, { now });
    expect(result.check).toMatchObject({ intact: 1, altered: 1, unproved: 1, pending: 1, pendingBytes: 23 * MB });
    expect(result.check.first.altered).toEqual([
      {
        ...{ path: 'DCIM/100SALTM/A002.MOV', size: 22 * MB, format: 'md5', listed: A, found: ABC },
        at: { volume: 'stripe', path: `${HOME}/DCIM/100SALTM/A002.MOV` },
      },
    ]);
    expect(result.toRead).toEqual([{ version: now[2], format: 'md5', isAgain: false }]);
  });

  test('a list further down speaks of what lies below its folder', () => {
    const names = ALL.map(({ path }) => listed(path.slice('DCIM/100SALTM/'.length)));
    expect(check(names, COPIES, { base: 'DCIM/100SALTM', kind: 'list' }).check).toMatchObject({
      intact: 3,
      missing: 0,
    });
    expect(check(names, COPIES, { kind: 'list' }).check).toMatchObject({ intact: 0, missing: 3 });
  });

  test('what has not arrived, is not whole, or is on its way', () => {
    const [one, two, three] = COPIES as [Candidate, Candidate, Candidate];
    const copies = [one, { ...two, size: 5 }, { ...three, state: 'arriving' as const }];
    const result = check(ALL, copies);
    expect(result.check).toMatchObject({ intact: 1, altered: 0, missing: 1, arriving: 1, pending: 0, notOnCard: 0 });
    expect(result.toRead).toEqual([]);
    expect(check(ALL, []).check).toMatchObject({ missing: 3, notOnCard: 0 });
  });

  test('footage that the card does not hold any more is looked for with the rest of it', () => {
    const beside = listed('DCIM/100SALTM/A009.MOV');
    const other = listed('DCIM/101SALTM/A010.MOV');
    const thumbnail = listed('MISC/A009.THM');
    const files = [...ALL, beside, other, thumbnail];
    expect(check(files, COPIES).check).toMatchObject({
      ...{ missing: 3, notOnCard: 2, firstNotOnCard: ['DCIM/100SALTM/A009.MOV', 'DCIM/101SALTM/A010.MOV'] },
    });
    const here = [copyOf(`${HOME}/${beside.path}`, 7), copyOf(`${HOME}/${other.path}`, 8)];
    const now = [...COPIES, ...here].map((copy) => version(copy));
    expect(check(files, COPIES, { now }).check).toMatchObject({ intact: 5, missing: 1, notOnCard: 0 });
    // While nothing of the card is here nobody knows where it would lie.
    expect(check(files, []).check).toMatchObject({ missing: 6, notOnCard: 0 });
  });
});
