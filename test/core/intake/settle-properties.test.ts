import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compareSeen } from '../../../src/core/intake/compare.ts';
import { entries, lookUp } from '../../../src/core/intake/overlay-map.ts';
import { settle } from '../../../src/core/intake/settle.ts';
import {
  newUnit,
  type SettleAction,
  type SettleEvent,
  type SettleState,
} from '../../../src/core/intake/settle-state.ts';
import type { FileStat } from '../../../src/core/model.ts';
import type { Evidence, Wholeness, Writers } from '../../../src/core/root-port.ts';
import { runs } from '../../effort.ts';
import { LIMITS, NEVER, stat } from './settle-walk.ts';

describe('properties', () => {
  const path = fc.constantFrom('A001.mov', 'A001.wav', 'A001.xml', 'r/x_0001.dpx', 'cut.prproj', 'A001.mov.part');
  const world = fc.record({
    writers: fc.constantFrom<Writers>('none', 'open', 'unknown'),
    wholeness: fc.constantFrom<Wholeness>('whole', 'cut', 'unwritten', 'empty', 'not-media', 'no-structure'),
    error: fc.constantFrom(null, null, null, 'EIO: i/o error'),
  });
  const deed = fc.record({
    after: fc.double({ min: 0, max: 40, noNaN: true }),
    path,
    what: fc.constantFrom('write', 'write', 'write', 'remove', 'silent write', 'restart'),
    world,
  });

  interface Told {
    at: number;
    action: SettleAction;
    /** Since the last change that was made known, and what was so when the look was made. */
    quiet: number;
    writers: Map<string, Writers>;
  }

  /** A unit, or a file that was taken apart from it, with the one answer that is on its way. */
  interface Going {
    state: SettleState;
    answer: { at: number; event: SettleEvent } | null;
  }

  /**
   * A disk on which files change and are looked at; everything is answered truthfully, after a while. What is taken apart
   * goes on by itself, and is put back when it changes or turns out complete.
   */
  function live(
    deeds: readonly {
      after: number;
      path: string;
      what: string;
      world: { writers: Writers; wholeness: Wholeness; error: string | null };
    }[],
  ) {
    const files = new Map<string, { stat: FileStat; world: (typeof deeds)[number]['world'] }>();
    const told: Told[] = [];
    const writersSeen = new Map<string, Writers>();
    let unit: Going = { state: newUnit(), answer: null };
    let asides: Going[] = [];
    let now = 0;
    let version = 1;
    let lastSeen = 0;

    const pathsOf = ({ state }: Going) => [...entries(state.members)].map(([name]) => name);
    const lookAt = (asked: string): Evidence => {
      const file = files.get(asked);
      if (file !== undefined) return { path: asked, stat: file.stat, ...file.world, detail: null };
      return { path: asked, stat: null, error: null, writers: 'none', wholeness: 'no-structure', detail: null };
    };
    const send = (going: Going, event: SettleEvent): void => {
      const { state, action } = settle(going.state, event, now, LIMITS);
      if (going === unit && state.changedAt !== going.state.changedAt) lastSeen = now;
      going.state = state;
      if (going !== unit && (action.do === 'probe' || action.do === 'finish')) {
        for (const name of pathsOf(going)) putBack(going, name);
        return;
      }
      const writers = new Map([...writersSeen].filter(([name]) => pathsOf(going).includes(name)));
      if (action.do !== 'wait') told.push({ at: now, action, quiet: now - lastSeen, writers });
      if (action.do === 'inspect') {
        for (const asked of action.paths) writersSeen.set(asked, files.get(asked)?.world.writers ?? 'none');
        const evidence = action.paths.map(lookAt);
        going.answer = { at: now + 0.05, event: { type: 'evidence', generation: action.generation, evidence } };
      }
      if (action.do === 'probe')
        going.answer = {
          at: now + 0.5,
          event: { type: 'probed', generation: action.generation, outcome: { ok: true } },
        };
      if (action.do === 'part') asides.push(...action.asides.map((aside) => ({ state: aside.state, answer: null })));
      if (action.do === 'forget') asides = asides.filter((aside) => aside !== going);
    };
    const putBack = (aside: Going, name: string): void => {
      const before = lookUp(aside.state.members, name)?.stat;
      send(aside, { type: 'gone', paths: [name] });
      if (before !== undefined) send(unit, { type: 'resumed', files: [before] });
    };
    const tell = (seen: readonly FileStat[]): void => {
      const fresh = seen.filter((file) => {
        const aside = asides.find(({ state }) => lookUp(state.members, file.path) !== undefined);
        const known = aside === undefined ? undefined : lookUp(aside.state.members, file.path)?.stat;
        if (aside === undefined || known === undefined) return true;
        if (compareSeen(known, file).verdict === 'same') return false;
        putBack(aside, file.path);
        return true;
      });
      if (fresh.length > 0) send(unit, { type: 'seen', files: fresh });
    };
    const due = ({ state, answer }: Going) =>
      Math.min(answer?.at ?? NEVER, state.asked === null && state.members.size > 0 ? state.wakeAt : NEVER);
    const runUntil = (end: number, limit: number) => {
      for (let steps = 0; steps < limit; steps += 1) {
        const [first = unit] = [unit, ...asides].toSorted((a, b) => due(a) - due(b));
        const next = due(first);
        if (next > end || next === NEVER) return;
        now = Math.max(now, next);
        const { answer } = first;
        if (answer !== null && answer.at <= next) {
          first.answer = null;
          send(first, answer.event);
        } else send(first, { type: 'tick' });
      }
      throw new Error('no end of steps');
    };
    for (const { after, path: at, what, world: given } of deeds) {
      const then = now + after;
      runUntil(then, 10_000);
      now = then;
      version += 1;
      if (what === 'remove') {
        files.delete(at);
        writersSeen.delete(at);
        for (const going of [unit, ...asides]) send(going, { type: 'gone', paths: [at] });
      } else if (what === 'restart') {
        asides = [];
        unit = { state: newUnit(), answer: null };
        if (files.size > 0) send(unit, { type: 'resumed', files: [...files.values()].map((file) => file.stat) });
      } else {
        const written = stat(at, given.wholeness === 'empty' ? 0 : 100, version);
        files.set(at, { stat: written, world: given });
        if (what === 'write') tell([written]);
      }
    }
    // A sweep finds what no event told of.
    tell([...files.values()].map((file) => file.stat));
    runUntil(now + 3600, 40_000);
    return { goings: [unit, ...asides].filter(({ state }) => state.members.size > 0), told, files, pathsOf };
  }

  test('nothing is read or finished while footage is open for writing, or before it was quiet', () => {
    fc.assert(
      fc.property(fc.array(deed, { maxLength: 12 }), (deeds) => {
        for (const { action, quiet, writers } of live(deeds).told) {
          if (action.do !== 'probe') continue;
          expect(quiet).toBeGreaterThanOrEqual(LIMITS.quiet - 1e-6);
          for (const [name, writer] of writers)
            if (!/xml|prproj|part$/.test(name)) expect([name, writer]).not.toEqual([name, 'open']);
        }
      }),
      { numRuns: runs(200) },
    );
  });

  test('after the last change every unit comes to an end: ready, refused, stalled or forgotten', () => {
    fc.assert(
      fc.property(fc.array(deed, { minLength: 1, maxLength: 12 }), (deeds) => {
        const { goings, files, pathsOf } = live(deeds);
        for (const { state } of goings) expect(['ready', 'refused', 'stalled']).toContain(state.phase);
        expect(goings.flatMap(pathsOf).toSorted()).toEqual([...files.keys()].toSorted());
        const bytes = [...files.values()].reduce((sum, file) => sum + file.stat.size, 0);
        expect(goings.reduce((sum, { state }) => sum + state.bytes, 0)).toBe(bytes);
      }),
      { numRuns: runs(200) },
    );
  });

  test('what is whole becomes ready, whatever else is in the unit', () => {
    fc.assert(
      fc.property(fc.array(deed, { minLength: 1, maxLength: 12 }), (deeds) => {
        const { goings, files, pathsOf } = live(deeds);
        // A document or a temporary name holds up its unit while it is open: it may be part of what is being made.
        const holding = [...files.values()].some(({ world }) => world.writers === 'open');
        for (const going of goings) {
          const good = pathsOf(going).filter((name) => {
            const given = files.get(name)?.world;
            return /mov$|wav$|dpx$/.test(name) && given?.wholeness === 'whole' && given.error === null;
          });
          if (good.length > 0 && !holding) expect([good, going.state.phase]).toEqual([good, 'ready']);
        }
      }),
      { numRuns: runs(200) },
    );
  });

  const ofOneTake = deed.map((one) => ({ ...one, path: one.path.replace(/^(?!A001\.(mov|wav)$).*/, 'A001.xml') }));

  test('a restart anywhere leads to the same end of every picture and sound', () => {
    fc.assert(
      fc.property(fc.array(ofOneTake, { minLength: 1, maxLength: 8 }), fc.nat(8), (deeds, at) => {
        const straight = deeds.filter(({ what }) => what !== 'restart');
        const [first] = straight;
        fc.pre(first !== undefined);
        const broken = straight.toSpliced(at, 0, { ...first, after: 0, what: 'restart' });
        const end = ({ goings, pathsOf }: ReturnType<typeof live>) =>
          goings
            .flatMap((going) => pathsOf(going).map((name) => [name, going.state] as const))
            .filter(([name]) => /mov$|wav$/.test(name))
            .map(([name, state]) => [name, state.phase, state.phase === 'ready' ? null : state.reason])
            .toSorted();
        const ended = live(straight);
        // While a file is open nothing is taken apart, so it matters whether that was done before it was opened.
        fc.pre(![...ended.files.values()].some(({ world: given }) => given.writers === 'open'));
        expect(end(live(broken))).toEqual(end(ended));
      }),
      { numRuns: runs(200) },
    );
  });

  test('a step never changes the state it was given', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(path, fc.nat(3)), { maxLength: 10 }), (writes) => {
        let state = newUnit();
        for (const [name, version] of writes) {
          const frozen = Object.freeze(state);
          const first = settle(frozen, { type: 'seen', files: [stat(name, version)] }, version, LIMITS);
          expect(settle(frozen, { type: 'seen', files: [stat(name, version)] }, version, LIMITS)).toEqual(first);
          state = first.state;
        }
      }),
    );
  });
});
