import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { restoreAdvice, storeAdvice } from '../../src/core/advise/advice-store.ts';
import { type AdviceState, raisedAdvisories, type SubjectState, withSnoozes } from '../../src/core/advise/advise.ts';
import { lifted, type Snooze, snoozeOf } from '../../src/core/advise/snooze.ts';
import type { LedgerPort } from '../../src/core/store-ports.ts';

export interface LedgerSubject {
  ledger(): LedgerPort;
  /** As a daemon that was ended and started again finds it. */
  reopen(): Promise<void>;
  end(): Promise<void>;
}

const NOON = Date.UTC(2027, 2, 4, 12);

function standing(volume: string): [string, SubjectState] {
  const id = `volume-busy:${volume}`;
  return [
    id,
    {
      ...{ id, kind: 'volume-busy', subject: volume, snooze: null },
      announced: { event: 'first', severity: 'warning', at: NOON - 5 },
      hysteresis: { phase: 'raised', since: NOON - 60_000, severity: 'warning', falling: null },
      latest: { message: `${volume} is busy.`, figures: { share: 0.9 }, remedies: [] },
    },
  ];
}

export function snoozesContract(name: string, make: () => Promise<LedgerSubject>): void {
  describe(`${name}: what is kept of snoozes`, () => {
    let subject: LedgerSubject;
    beforeEach(async () => {
      subject = await make();
    });
    afterEach(() => subject.end());

    const put = (state: AdviceState) => subject.ledger().putAdvisories(storeAdvice(state));
    const kept = async () => restoreAdvice(await subject.ledger().advisories());
    const STATE: AdviceState = new Map([standing('stripe'), standing('mirror')]);

    function snoozed(changes: Partial<Snooze> = {}): AdviceState {
      const snooze = snoozeOf({ until: NOON + 3_600_000, reason: 'shelf-b comes', by: 'anna' }, 'warning', NOON);
      return withSnoozes(STATE, new Map([['volume-busy:mirror', { ...snooze, ...changes }]]));
    }

    test('it comes back as it was said, with the state of its advisory and in its order', async () => {
      await put(snoozed());
      await subject.reopen();
      const { state, dropped } = await kept();
      expect(dropped).toEqual([]);
      expect([...state]).toEqual([...snoozed()]);
      expect(raisedAdvisories(state).map(({ subject: volume, snooze }) => [volume, snooze?.saidBy])).toEqual([
        ['stripe', undefined],
        ['mirror', 'anna'],
      ]);
    });

    test.each([
      ['quotes and marks', `'"; DROP TABLE advisory_state; -- <b>&amp;`],
      ['controls', 'a\u0000b\u001b[2J\n\u202e'],
      ['a lone surrogate', 'a\ud800b'],
      ['other scripts', '潮 한 🎬 e\u0301'],
    ])('whatever is in its words: %s', async (_, text) => {
      await put(snoozed({ reason: text, saidBy: text }));
      await subject.reopen();
      expect((await kept()).state.get('volume-busy:mirror')?.snooze).toMatchObject({ reason: text, saidBy: text });
    });

    test('the last that was said counts: lifted, said anew, and gone with its advisory', async () => {
      await put(snoozed());
      await put(snoozed({ ends: 'lifted', until: NOON + 5 }));
      await subject.reopen();
      const snooze = (await kept()).state.get('volume-busy:mirror')?.snooze ?? null;
      expect(snooze).toEqual(lifted(snoozed().get('volume-busy:mirror')?.snooze as Snooze, NOON + 5));
      await put(snoozed({ isKnown: true, until: null }));
      expect((await kept()).state.get('volume-busy:mirror')?.snooze).toMatchObject({ isKnown: true, until: null });
      await put(new Map([standing('stripe')]));
      await put(STATE);
      await subject.reopen();
      expect((await kept()).state.get('volume-busy:mirror')?.snooze).toBeNull();
    });

    test('rows as an earlier version kept them know none', async () => {
      const rows = storeAdvice(STATE).map(({ id, json }) => {
        const { snooze, ...earlier } = JSON.parse(json);
        return { id, json: JSON.stringify(earlier) };
      });
      await subject.ledger().putAdvisories(rows);
      await subject.reopen();
      expect((await kept()).state).toEqual(STATE);
    });
  });
}
