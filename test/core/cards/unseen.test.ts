import { expect, test } from 'vitest';
import { unseenDeliveries } from '../../../src/core/cards/unseen.ts';
import { cardOf, copiesOf, fileOf, MB, manifestOf, reconcileAgainst } from './arrived.ts';

const FILES = [fileOf('DCIM/100ABCDE/A0001.MOV', 4 * MB), fileOf('DCIM/100ABCDE/A0002.MOV', 5 * MB)];
const copied = (root: string, volume = 'stripe') => ({ volume, root, layout: 'DCIM' });

test('a copied card is unseen until a card or a list speaks of files below it', () => {
  const card = cardOf('A', FILES);
  const roots = [copied('Day 3/Card A'), copied('Day 3/Card B'), copied('Day 3/Card A', 'stripe-b'), copied('')];
  const none = reconcileAgainst([card], []);
  expect(unseenDeliveries(roots, none)).toEqual(roots);
  const some = reconcileAgainst([card], copiesOf(card, 'Day 3/Card A').slice(1));
  // The volume's root holds what lies below it.
  expect(unseenDeliveries(roots, some)).toEqual([copied('Day 3/Card B'), copied('Day 3/Card A', 'stripe-b')]);
  const listed = reconcileAgainst(
    [
      manifestOf(
        'm',
        'Day 3',
        FILES.map((file) => ({ ...file, path: `Card B/${file.path}` })),
      ),
    ],
    copiesOf(card, 'Day 3/Card B'),
  );
  expect(unseenDeliveries(roots.slice(0, 2), listed)).toEqual([copied('Day 3/Card A')]);
});
