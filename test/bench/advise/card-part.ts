import type { CardAssessment } from '../../../src/core/assess/assessment.ts';
import { stepProgress } from '../../../src/core/cards/reconcile.ts';
import { copiesOfTakes, SAMPLE_CARD, sampleCard } from '../../core/card-samples.ts';
import type { History } from '../forecast/simulated-shoots.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR, MINUTE, type Trouble } from './kinds.ts';
import { agenda, type Part } from './part.ts';
import type { Record } from './record.ts';

const STALLED_MS = 10 * MINUTE;
const TAKES = 5;

/** How the copying of a card goes, and how often. */
const FATES = [
  ['whole', 0.6],
  /** A person copies the clips alone, without sidecars and the camera's index. */
  ['clips-alone', 0.29],
  ['pulled-early', 0.02],
  ['broken-off', 0.02],
  ['back-after-minutes', 0.02],
  ['shaken', 0.03],
  /** To see what is on it. It is copied the next day. */
  ['looked-at', 0.02],
] as const;
type Fate = (typeof FATES)[number][0];

/** Cards are set beside what arrived as they are in earnest. The plain threshold: a card leaves, and not as many files came as are on it. */
export function cardPart({ hours }: History, dice: Dice): Part {
  const changes = agenda();
  const lost: Trouble[] = [];
  const cards = new Map<string, CardAssessment>();
  let count = 0;
  for (const [hour, { ingestBytes }] of hours.entries()) {
    if (ingestBytes > 0 && dice.happens(0.3))
      insert(hour * HOUR + Math.round(dice.between(0, 20)) * MINUTE, fateOf(dice));
  }

  function insert(at: number, fate: Fate): void {
    const id = `c${++count}`;
    const inventory = { ...SAMPLE_CARD, id, name: `SM-${count}` };
    const subject = `${inventory.name} (${id})`;
    const isNamed = fate === 'clips-alone';
    const put = (when: number, takes: number, goneSince: number | null) =>
      changes.add({
        at: when,
        run(naive) {
          const all = copiesOfTakes(takes);
          const copies = isNamed ? all.filter(({ path }) => path.endsWith('.MP4')) : all;
          const card = sampleCard(copies, { state: goneSince === null ? 'mounted' : 'gone', goneSince }, inventory);
          const progress = stepProgress(cards.get(id)?.progress ?? null, card.reconciliation, when);
          cards.set(id, { ...card, progress });
          if (goneSince === when)
            naive.tell('card-incomplete', subject, copies.length < SAMPLE_CARD.files.length - 1, when);
        },
      });
    const drop = (when: number) => changes.add({ at: when, run: (naive) => leave(naive, when) });
    const leave = (naive: Record, when: number) => {
      cards.delete(id);
      naive.tell('card-incomplete', subject, false, when);
    };
    /** Somebody sees that it has left, or that nothing comes, a moment after it is sure. */
    const look = (when: number) => changes.add({ at: when, run: () => {} });
    const minutes = Math.round(dice.between(10, 30)) * MINUTE;
    const [half, end] = [at + minutes / 2, at + minutes];
    put(at, 0, null);
    switch (fate) {
      case 'whole':
      case 'clips-alone':
        put(half, 3, null);
        put(end, TAKES, null);
        put(end + 5 * MINUTE, TAKES, end + 5 * MINUTE);
        look(end + 5 * MINUTE + 6_000);
        drop(end + HOUR);
        break;
      case 'pulled-early':
        put(half, 3, null);
        put(end, 3, end);
        look(end + 6_000);
        lost.push({ subject, at: end + DAY, until: end + DAY });
        drop(end + DAY + HOUR);
        break;
      case 'broken-off':
        put(half, 3, null);
        look(half + STALLED_MS + 1_000);
        lost.push({ subject, at: half + 6 * HOUR, until: half + 6 * HOUR });
        drop(half + 7 * HOUR);
        break;
      case 'back-after-minutes': {
        const back = end + Math.round(dice.between(1, 15)) * MINUTE;
        put(half, 3, null);
        put(end, 3, end);
        look(end + 6_000);
        put(back, 3, null);
        put(back + minutes, TAKES, null);
        put(back + minutes + MINUTE, TAKES, back + minutes + MINUTE);
        drop(back + minutes + HOUR);
        break;
      }
      case 'shaken':
        put(half, 2, null);
        put(half + MINUTE, 2, half + MINUTE);
        put(half + MINUTE + 3_000, 2, null);
        put(end, TAKES, null);
        put(end + MINUTE, TAKES, end + MINUTE);
        drop(end + HOUR);
        break;
      case 'looked-at':
        put(end, 0, end);
        look(end + 6_000);
        drop(end + 20 * HOUR);
        break;
    }
  }

  return {
    step: (now, naive) => changes.run(now, naive),
    show(scene, now) {
      scene.cards.push(
        ...[...cards.values()].map((card) => ({ ...card, stalled: now - card.progress.since >= STALLED_MS })),
      );
    },
    next: changes.next,
    troubles: { 'card-incomplete': lost },
  };
}

function fateOf(dice: Dice): Fate {
  let left = dice.uniform();
  for (const [fate, share] of FATES) {
    left -= share;
    if (left <= 0) return fate;
  }
  return 'whole';
}
