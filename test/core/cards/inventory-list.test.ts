import { describe, expect, test } from 'vitest';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import { isOfList, listStamp, listsOnCard } from '../../../src/core/cards/inventory-list.ts';

const file = (path: string, size = 1, mtimeMs = 5): InventoryFile => ({ path, size, mtimeMs });
const places = (...paths: string[]) =>
  listsOnCard(paths.map((path) => file(path))).map(({ place, base }) => [place, base]);

describe('lists on a card', () => {
  test('a history is one list with all its files, below the folder that holds it; another list is one file', () => {
    const paths = [
      'ascmhl/ascmhl_chain.xml',
      'ascmhl/0002_A_2027-02-11_100000Z.mhl',
      'ascmhl/0001_A_2027-02-11_090000Z.mhl',
    ];
    const lists = listsOnCard(
      [...paths, 'DCIM/100SALTM/A001.MOV', 'DCIM/100SALTM/day3.md5', 'MD5SUMS'].map((path) => file(path)),
    );
    expect(lists.map(({ place, base, files }) => [place, base, files.length])).toEqual(
      [['DCIM/100SALTM/day3.md5', 'DCIM/100SALTM', 1], ['MD5SUMS', '', 1], ['ascmhl', '', 3].slice(0, 3)].sort(
        (one, other) => (String(one[0]) < String(other[0]) ? -1 : 1),
      ),
    );
    expect(places('A001/ascmhl/ascmhl_chain.xml', 'A001/ascmhl/0001_A.mhl')).toEqual([['A001/ascmhl', 'A001']]);
  });

  test('no list: the checksum of one file, a folder without any, footage', () => {
    expect(places('A001.MOV', 'A001.MOV.md5', 'ascmhl/notes.txt', 'ascmhl/ascmhl_chain.xml')).toEqual([]);
    expect([file('ascmhl/ascmhl_chain.xml'), file('A001.MOV')].map(isOfList)).toEqual([true, false]);
  });

  test('their stamp is another with any size or time, and the same in any order', () => {
    const stamp = (...files: InventoryFile[]) => listsOnCard(files).map(listStamp);
    const [one, two] = [file('ascmhl/0001_A.mhl'), file('ascmhl/0002_A.mhl')];
    expect(stamp(one, two)).toEqual(stamp(two, one));
    for (const other of [file(two.path, 2), file(two.path, 1, 6), file('ascmhl/0003_A.mhl')]) {
      expect(stamp(one, other)).not.toEqual(stamp(one, two));
    }
  });
});
