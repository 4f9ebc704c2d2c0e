import { join } from 'node:path';
import { expect, test } from 'vitest';
import { checkTree, recordTree } from '../../../src/rim/manifest/tree-histories.ts';
import { type CardFileSystem, cardImage, whyNoCards } from '../card/card-image.ts';
import { inShort, lay, manifests, operation, validate, walk } from './trees.ts';

/** File systems that shelves have: exFAT knows no links, so that names are taken another way there. */
for (const fileSystem of ['ext4', 'exfat'] as CardFileSystem[]) {
  const whyNot = whyNoCards(fileSystem);
  if (whyNot !== null) console.warn(`NOT CHECKED: histories on ${fileSystem}. None can be mounted here: ${whyNot}`);

  test.skipIf(whyNot !== null)(
    `a shelf in ${fileSystem} has its history after it was pulled out and put in again`,
    () => {
      const shelf = cardImage(fileSystem, 'shelf-a');
      try {
        shelf.mount('rw');
        const top = lay(join(shelf.mountPoint, 'Lock Keepers'), { 'Day 1/A.mov': 'take a', 'Day 1/B.mov': 'take b' });
        const record = (day: number) => inShort(recordTree(walk(top), operation(day)));
        expect(record(0)).toEqual({ '': 'generation 1, 2 new' });
        expect(record(1)).toEqual({ '': 'generation 2, 2 intact' });
        shelf.unmount();
        shelf.mount('ro');
        validate(top);
        expect(inShort(checkTree(walk(top), operation(2)))).toEqual({ '': 'nothing written, 2 intact' });
        expect(record(2)).toEqual({ '': expect.stringMatching(/^unwritable ascmhl\/0003_Lock Keepers_/) });
        shelf.unmount();
        shelf.mount('rw');
        expect(record(3)).toEqual({ '': 'generation 3, 2 intact' });
        expect(manifests(top)).toHaveLength(3);
      } finally {
        shelf.remove();
      }
    },
  );
}
