import { describe, expect, test } from 'vitest';
import { advise, NO_ADVICE } from '../../../../src/core/advise/advise.ts';
import { cardIncomplete } from '../../../../src/core/advise/rules/card-incomplete.ts';
import type { CardAssessment } from '../../../../src/core/assess/assessment.ts';
import { untrusted } from '../../../../src/core/cards/list-check.ts';
import { CLEARED_WORDS } from '../../../../src/core/present/wording.ts';
import {
  clearedCard,
  copiesOfTakes,
  SAMPLE_CARD,
  SAMPLE_COPIES,
  SAMPLE_FOLDER,
  sampleCard,
} from '../../card-samples.ts';
import { copyOf, fileOf, MB, manifestOf } from '../../cards/arrived.ts';
import { NOON, SECOND, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const GONE = { state: 'gone', goneSince: NOON - 5 * SECOND } as const;

function evaluate(card: CardAssessment, volumes = [sampleVolume()]) {
  return cardIncomplete.evaluate(sampleAssessment({ cards: [card], volumes }), THRESHOLDS);
}

describe('a card that has left with footage not arrived', () => {
  test('is told with names, sizes, and what to do', () => {
    expect(evaluate(sampleCard(copiesOfTakes(3), GONE)).findings).toEqual([
      {
        kind: 'card-incomplete',
        subject: 'SM-A01 (f00d)',
        severity: 'warning',
        message:
          'Card SM-A01 (XAVC (M4ROOT)) was taken out: 2 of its 5 files of footage (4.00 GB) have not arrived: M4ROOT/CLIP/C0004.MP4 (2.00 GB), M4ROOT/CLIP/C0005.MP4 (2.00 GB). Keep the card as it is.',
        figures: { missingFiles: 2, missingBytes: 4005 * MB, footageFiles: 5, state: 'gone' },
        remedies: [
          {
            action: 'Put the card in again and copy exactly these files',
            effect:
              '2 files, 4.00 GB: then all its footage is here (5 files), by name and size; contents were not compared, keep the card until verified copies exist',
          },
          {
            action: 'If they are not wanted, run: headroomd card --drop f00d',
            effect: 'nothing of it is waited for any more; no file is touched',
          },
        ],
      },
    ]);
  });

  test('not within 5 s: it may shake in its reader; and at once when it left before the start', () => {
    expect(evaluate(sampleCard(copiesOfTakes(3), { ...GONE, goneSince: NOON - 4999 })).findings).toEqual([]);
    expect(evaluate(sampleCard(copiesOfTakes(3), { ...GONE, goneSince: null })).findings).toHaveLength(1);
  });

  test('when nothing of it had arrived it is a notice', () => {
    const [finding] = evaluate(sampleCard([], GONE)).findings;
    expect(finding?.severity).toBe('notice');
    expect(finding?.message).toMatch(/was taken out: all 5 files of footage \(10\.0 GB\) have not arrived: /);
  });

  test('a copy that is cut short is named with both sizes', () => {
    const cut = copyOf(`${SAMPLE_FOLDER}/M4ROOT/CLIP/C0005.MP4`, 500 * MB, { state: 'arriving' });
    const [finding] = evaluate(sampleCard([...copiesOfTakes(4), cut], GONE)).findings;
    expect(finding?.message).toContain(
      'C0005.MP4 (2.00 GB, but 500 MB at Saltmarsh/Day 3/Card A/M4ROOT/CLIP/C0005.MP4)',
    );
    expect(evaluate(sampleCard([...copiesOfTakes(4), cut])).findings).toEqual([]);
  });

  test('what is refused remains even then', () => {
    const refused = { ...copiesOfTakes(1)[0], state: 'refused' } as ReturnType<typeof copyOf>;
    const [finding] = evaluate(sampleCard([refused, ...copiesOfTakes(4).slice(2)], GONE)).findings;
    expect(finding?.message).toContain(': 1 of its 5 files of footage (2.00 GB) has not arrived: ');
    expect(finding?.remedies.map(({ action, effect }) => `${action}: ${effect}`)).toEqual([
      'Put the card in again and copy exactly this file: 1 file, 2.00 GB: then 1 of 5 remain, arriving or refused',
      'If it is not wanted, run: headroomd card --drop f00d: nothing of it is waited for any more; no file is touched',
    ]);
  });

  test('at most five names; how many more', () => {
    const files = Array.from({ length: 9 }, (_, index) => fileOf(`DCIM/100ABCDE/A000${index}.MOV`, (100 + index) * MB));
    const [finding] = evaluate(sampleCard([], GONE, { ...SAMPLE_CARD, files })).findings;
    expect(finding?.message.match(/A000\d\.MOV/g)).toHaveLength(5);
    expect(finding?.message).toContain(' and 4 more. Keep the card as it is.');
  });

  test('hostile names are harmless', () => {
    const files = [fileOf('DCIM/100ABCDE/\u001b[2J\n\u202e.MOV', MB)];
    const hostile = { ...SAMPLE_CARD, id: '\u001bid', name: '\u009b31m', layout: 'x\ny', files };
    const [finding] = evaluate(sampleCard([], GONE, hostile)).findings;
    const said = [finding?.message, ...(finding?.remedies ?? []).flatMap(({ action, effect }) => [action, effect])];
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
    expect(said.join('')).not.toMatch(/[\u0000-\u001f\u0080-\u009f\u202e]/);
  });
});

describe('footage that had arrived and is no longer here', () => {
  test('is lacking like any other, in the message and in the remedy', () => {
    const [finding] = evaluate(clearedCard([], copiesOfTakes(3), GONE)).findings;
    expect(finding?.severity).toBe('warning');
    expect(finding?.message).toMatch(
      /: all 5 files of footage \(10\.0 GB\) are not here: M4ROOT\/CLIP\/C0001\.MP4 \(2\.00 GB, had arrived and is no longer here\), /,
    );
    expect(finding?.figures).toMatchObject({ missingFiles: 5 });
    expect(finding?.remedies[0]?.effect).toMatch(/^5 files, 10\.0 GB: then all its footage is here \(5 files\)/);
  });

  test('does not end it when the others have come', () => {
    const [finding] = evaluate(clearedCard(SAMPLE_COPIES.slice(6), SAMPLE_COPIES, GONE)).findings;
    expect(finding?.message).toContain(': 3 of its 5 files of footage (6.00 GB) are not here: ');
  });

  test('is no news of a card that was wholly here once', () => {
    expect(evaluate(clearedCard([], SAMPLE_COPIES, { ...GONE, wasComplete: true })).findings).toEqual([]);
  });
});

describe('a card that could not be read whole', () => {
  const HOLED = { ...SAMPLE_CARD, gap: 'M4ROOT/SUB cannot be read (EIO)' };
  const UNREAD =
    'It could not be read whole (M4ROOT/SUB cannot be read (EIO)); what of it has not arrived cannot be said.';

  test('and leaves is warned of, also when all that is known has arrived', () => {
    const [finding] = evaluate(sampleCard(SAMPLE_COPIES, GONE, HOLED)).findings;
    expect(finding).toMatchObject({
      severity: 'warning',
      message: `Card SM-A01 (XAVC (M4ROOT)) was taken out. ${UNREAD} Keep the card, put it in again.`,
    });
    expect(finding?.remedies.map(({ action }) => action)).toEqual([
      'Put the card in again',
      'If nothing more of it is wanted, run: headroomd card --drop f00d',
    ]);
    expect(evaluate(sampleCard(SAMPLE_COPIES, { ...GONE, goneSince: NOON - 4999 }, HOLED)).findings).toEqual([]);
    expect(evaluate(sampleCard(SAMPLE_COPIES, {}, HOLED)).findings).toEqual([]);
  });

  test('says so beside what is known to lack, and promises no more than that', () => {
    const [finding] = evaluate(sampleCard(copiesOfTakes(3), GONE, HOLED)).findings;
    expect(finding?.message).toContain(`C0005.MP4 (2.00 GB). ${UNREAD} Keep the card as it is.`);
    expect(finding?.remedies[0]?.effect).toContain('then all its footage that could be read is here (5 files)');
    expect(evaluate(sampleCard([], GONE, HOLED)).findings[0]?.severity).toBe('warning');
  });
});

describe('a card in its reader', () => {
  test('whose copy began and does not go on', () => {
    const [finding] = evaluate(sampleCard(copiesOfTakes(3), { stalled: true })).findings;
    expect(finding?.severity).toBe('warning');
    expect(finding?.message).toMatch(/ is in, but nothing more of it arrives: 2 of its 5 files of footage /);
    expect(finding?.remedies[0]?.action).toBe('Copy exactly these files from the card');
  });

  test.each<[string, number, Partial<CardAssessment>]>([
    ['while more may come', 3, { stalled: false }],
    ['of which nothing has arrived: it is simply plugged in', 0, { stalled: true }],
    ['of which all footage has arrived', 5, { stalled: true }],
    ['of which all footage had arrived once', 3, { stalled: true, wasComplete: true }],
  ])('is no news %s', (_, takes, over) => {
    expect(evaluate(sampleCard(copiesOfTakes(takes), over)).findings).toEqual([]);
  });

  test('missing sidecars alone are no warning', () => {
    const footage = copiesOfTakes(5).filter(({ path }) => path.endsWith('.MP4'));
    expect(evaluate(sampleCard(footage, GONE)).findings).toEqual([]);
  });
});

/** What lacks of a list that can be relied on is told with what is altered of it. */
const BROKEN = untrusted('its chain is not there', 'mark', NOON);

describe('a manifest that cannot be relied on', () => {
  const LIST = manifestOf('m', 'Saltmarsh/Day 3', [fileOf('Clips/A.mov', 5 * MB), fileOf('Clips/B.mov', 7 * MB)]);

  test('that lists footage which is not there', () => {
    const card = sampleCard(
      [copyOf('Saltmarsh/Day 3/Clips/A.mov', 5 * MB)],
      { state: 'manifest', stalled: true, check: BROKEN },
      LIST,
    );
    expect(evaluate(card).findings[0]).toMatchObject({
      severity: 'warning',
      message:
        'List Saltmarsh/Day 3/m.mhl on stripe: 1 of its 2 files of footage (7.00 MB) is not below Saltmarsh/Day 3 as listed: Clips/B.mov (7.00 MB).',
    });
  });

  test('of which nothing is there speaks of something else', () => {
    expect(evaluate(sampleCard([], { state: 'manifest', stalled: true, check: BROKEN }, LIST)).findings).toEqual([]);
  });

  test('without sizes: names alone', () => {
    const bare = { ...LIST, files: LIST.files.map((file) => ({ ...file, size: null })) };
    const card = sampleCard(
      [copyOf('Saltmarsh/Day 3/Clips/A.mov', 5)],
      { state: 'manifest', stalled: true, check: BROKEN },
      bare,
    );
    const [finding] = evaluate(card).findings;
    expect(finding?.message).toContain(
      '1 of its 2 files of footage is not below Saltmarsh/Day 3 as listed: Clips/B.mov.',
    );
    expect(finding?.remedies[0]?.effect).toBe(
      '1 file: then all its footage is here (2 files), by name and size; contents were not compared, keep the card until verified copies exist',
    );
  });
});

describe('when nothing can be concluded', () => {
  const card = sampleCard(copiesOfTakes(3), GONE);

  test.each<[string, Parameters<typeof sampleVolume>[0][]]>([
    ['the volume with its copies is away', [{ state: 'absent' }]],
    ['any volume is read for the first time', [{}, { name: 'other', state: 'starting' }]],
  ])('%s', (_, volumes) => {
    const { findings, holds } = evaluate(
      card,
      volumes.map((over) => sampleVolume(over)),
    );
    expect(findings).toEqual([]);
    expect(holds('SM-A01 (f00d)')).toBe('root-not-live');
    expect(holds('another (1)')).toBeNull();
  });

  test('a volume that has nothing to do with it may be away', () => {
    expect(evaluate(card, [sampleVolume(), sampleVolume({ name: 'other', state: 'absent' })]).findings).toHaveLength(1);
  });
});

test('it is told once, and over when the rest has arrived', () => {
  const said: string[] = [];
  let state = NO_ADVICE;
  const cards = [sampleCard(copiesOfTakes(3)), ...[3, 4, 5].map((takes) => sampleCard(copiesOfTakes(takes), GONE))];
  for (const [index, card] of cards.entries()) {
    const advice = advise(state, sampleAssessment({ cards: [card] }), THRESHOLDS, NOON + index * SECOND);
    state = advice.state;
    said.push(...advice.announcements.map(({ event, advisory }) => `${index} ${event} ${advisory.id}`));
  }
  expect(said).toEqual(['1 first card-incomplete:SM-A01 (f00d)', '3 cleared card-incomplete:SM-A01 (f00d)']);
  expect(CLEARED_WORDS['card-incomplete']('SM-A01 (f00d)')).toMatch(
    /SM-A01 \(f00d\): .* by name and size, .*\. Contents were not compared: keep the card until verified copies exist\.$/,
  );
});
