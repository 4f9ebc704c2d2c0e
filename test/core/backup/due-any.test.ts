import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { decide } from '../../../src/core/backup/due.ts';
import { nextBackup } from '../../../src/core/backup/due-next.ts';
import { exposureAt } from '../../../src/core/backup/exposure-time.ts';
import { lastSlot, timetable } from '../../../src/core/backup/slots.ts';
import { runs } from '../../effort.ts';
import { type Days, type Happened, HOUR, MINUTE, passDays } from './job-days.ts';

/** The Friday before summer time begins in Rome. */
const FROM = Date.parse('2027-03-26T12:00Z');
/** Anything may happen in the first days; then two that are calm, with every shelf there. */
const STEP = 5 * MINUTE;
const WILD = (3 * 24 * HOUR) / STEP;
const CALM = (2 * 24 * HOUR) / STEP;

const span = fc
  .tuple(fc.integer({ min: 0, max: WILD - 1 }), fc.integer({ min: 1, max: (18 * HOUR) / STEP }))
  .map(([from, length]) => [FROM + from * STEP, FROM + Math.min(WILD, from + length) * STEP] as const);
const spans = fc.array(span, { maxLength: 4 });

const anyDays: fc.Arbitrary<Days> = fc.record({
  job: fc.record({
    table: fc
      .constantFrom('0 4 * * *', '30 2 * * *', '15 2,14 * * *', '0 23 * * 1-6')
      .map((text) => timetable(text, 'Europe/Rome')),
    windowSeconds: fc.constantFrom(3600, 6 * 3600),
  }),
  from: fc.constant(FROM),
  to: fc.constant(FROM + (WILD + CALM) * STEP),
  shelves: fc.record({ 'shelf-a': spans, 'shelf-b': spans }),
  footage: fc
    .array(fc.tuple(fc.integer({ min: 1, max: WILD }), fc.integer({ min: 1, max: 900 })), { maxLength: 10 })
    .map((batches) =>
      batches
        .map(([step, size]) => ({ at: FROM + step * STEP, bytes: size * 1_000_700_000 }))
        .sort((one, other) => one.at - other.at),
    ),
  unasked: spans,
  playing: spans,
  tellsComing: fc.boolean(),
  failing: spans,
  step: fc.constant(STEP),
  runMinutes: fc.integer({ min: 1, max: 11 }).map((steps) => 5 * steps),
});

const outline = ({ starts }: Happened) => starts.map(({ tbHours: _, ...start }) => start);

describe('whatever happens', () => {
  test('no slot is lost for ever', () => {
    fc.assert(
      fc.property(anyDays, (days) => {
        expect(passDays(days)).toMatchObject({ exposedBytes: 0, lackingBytes: 0 });
      }),
      { numRuns: runs(30) },
    );
  });

  test('no night has two starts for one shelf: each is for one that had none since its slot', () => {
    fc.assert(
      fc.property(anyDays, (days) => {
        const { starts } = passDays(days);
        for (const [index, { at, reason, shelves }] of starts.entries()) {
          const slot = lastSlot(days.job.table, at);
          if (slot === null || (reason !== 'nightly' && reason !== 'catch-up')) continue;
          const had = starts.slice(0, index).flatMap((start) => (start.at >= slot.at ? start.shelves : []));
          expect(had.filter((name) => shelves.includes(name))).toEqual([]);
        }
      }),
      { numRuns: runs(30) },
    );
  });

  // What is owed is told here by the runs that began, not by what the decisions keep.
  test('a slot is taken up as soon as nothing is in its way', () => {
    fc.assert(
      fc.property(anyDays, (days) => {
        const { starts, known } = passDays(days);
        for (const { at, state, seen } of known) {
          const slot = lastSlot(days.job.table, at);
          if (slot === null || slot.at <= FROM || seen.hindrance !== null || state.run !== null) continue;
          for (const { name, isThere } of seen.shelves) {
            if (!isThere) continue;
            const began = (start: Happened['starts'][number]) => start.shelves.includes(name) && start.at >= slot.at;
            const isTaken = starts.some((start) => began(start) && start.at <= at);
            const isPausing = at < (state.shelves[name]?.failure?.retryAt ?? 0);
            // Another shelf goes first, and what its run is for is not for this one.
            const isOthersTurn = starts.some((start) => start.at === at);
            expect(isTaken || isPausing || isOthersTurn).toBe(true);
          }
        }
      }),
      { numRuns: runs(30) },
    );
  });

  test('it does not matter how often it was asked', () => {
    fc.assert(
      fc.property(anyDays, (days) => {
        expect(outline(passDays({ ...days, asks: 3 }))).toEqual(outline(passDays(days)));
      }),
      { numRuns: runs(10) },
    );
  });

  test('runs do not follow each other in a loop', () => {
    fc.assert(
      fc.property(anyDays, (days) => {
        const { starts } = passDays({ ...days, failing: [[days.from, days.to + 1]], unasked: [] });
        // 15 min, 30 min, 1 h, 2 h, then every four, for each of two shelves; and a night falls in between, from which it begins again.
        for (const { at } of starts) {
          expect(starts.filter((start) => start.at >= at && start.at < at + 24 * HOUR).length).toBeLessThanOrEqual(
            2 * (1 + 4 + 6),
          );
        }
      }),
      { numRuns: runs(30) },
    );
  });

  test('the next backup that is told is the one that comes, when nothing else does', () => {
    fc.assert(
      fc.property(anyDays, fc.nat(), (days, pick) => {
        const { known: all } = passDays(days);
        const known = all[pick % all.length];
        if (known === undefined || known.state.run !== null) return;
        const seen = { ...known.seen, hindrance: null };
        const next = nextBackup(days.job, known.state, seen, known.at);
        if (seen.shelves.every(({ isThere }) => !isThere)) return;
        let at = known.at;
        const then = () =>
          decide(days.job, known.state, { ...seen, exposed: seen.exposed && exposureAt(seen.exposed, at) }, at);
        while (then().do !== 'start' && at < known.at + 100 * HOUR) at += STEP;
        expect(at - (next?.at ?? Number.NaN)).toBeGreaterThanOrEqual(0);
        expect(at - (next?.at ?? Number.NaN)).toBeLessThan(STEP);
      }),
      { numRuns: runs(80) },
    );
  });
});
