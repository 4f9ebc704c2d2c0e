import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { settle } from '../../../src/core/intake/settle.ts';
import {
  arrivalOf,
  newUnit,
  type SettleAction,
  type SettleEvent,
  type SettleState,
} from '../../../src/core/intake/settle-state.ts';
import type { FileStat } from '../../../src/core/model.ts';
import type { Evidence, Wholeness, Writers } from '../../../src/core/ports.ts';
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

  /** A disk on which files change and are looked at; everything is answered truthfully, after a while. */
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
    let state = newUnit();
    let now = 0;
    let version = 1;
    let lastSeen = 0;
    let started = false;
    let answer: { at: number; event: SettleEvent } | null = null;
    const send = (event: SettleEvent) => {
      const step = settle(state, event, now, LIMITS);
      if (step.state.changedAt !== state.changedAt) lastSeen = now;
      state = step.state;
      const { action } = step;
      if (action.do !== 'wait') told.push({ at: now, action, quiet: now - lastSeen, writers: new Map(writersSeen) });
      if (action.do === 'inspect') {
        const evidence = action.paths.map((asked): Evidence => {
          const file = files.get(asked);
          writersSeen.set(asked, file?.world.writers ?? 'none');
          const gone = {
            path: asked,
            stat: null,
            error: null,
            writers: 'none',
            wholeness: 'no-structure',
            detail: null,
          } as const;
          return file === undefined ? gone : { path: asked, stat: file.stat, ...file.world, detail: null };
        });
        answer = { at: now + 0.05, event: { type: 'evidence', generation: action.generation, evidence } };
      }
      if (action.do === 'probe')
        answer = { at: now + 0.5, event: { type: 'probed', generation: action.generation, outcome: { ok: true } } };
    };
    const runUntil = (end: number, limit: number) => {
      for (let steps = 0; steps < limit; steps += 1) {
        const wake = state.asked === null && started ? state.wakeAt : NEVER;
        const next = Math.min(answer?.at ?? NEVER, wake);
        if (next > end || next === NEVER) return;
        now = Math.max(now, next);
        const { event } = answer !== null && answer.at <= next ? answer : { event: { type: 'tick' } as const };
        if (event.type !== 'tick') answer = null;
        send(event);
      }
      throw new Error('no end of steps');
    };
    for (const { after, path: at, what, world: given } of deeds) {
      const due = now + after;
      runUntil(due, 10_000);
      now = due;
      started = true;
      version += 1;
      if (what === 'remove') {
        files.delete(at);
        writersSeen.delete(at);
        send({ type: 'gone', paths: [at] });
      } else if (what === 'restart') {
        answer = null;
        state = newUnit();
        if (files.size > 0) send({ type: 'resumed', files: [...files.values()].map((file) => file.stat) });
      } else {
        files.set(at, { stat: stat(at, given.wholeness === 'empty' ? 0 : 100, version), world: given });
        if (what === 'write') send({ type: 'seen', files: [stat(at, given.wholeness === 'empty' ? 0 : 100, version)] });
      }
    }
    // A sweep finds what no event told of.
    if (files.size > 0) send({ type: 'seen', files: [...files.values()].map((file) => file.stat) });
    runUntil(now + 3600, 20_000);
    return { state, told, files };
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
        const { state, files } = live(deeds);
        if (files.size === 0) expect(state.members.size).toBe(0);
        else expect(['ready', 'refused', 'stalled']).toContain(state.phase);
        expect(state.bytes).toBe([...files.values()].reduce((sum, file) => sum + file.stat.size, 0));
      }),
      { numRuns: runs(200) },
    );
  });

  test('a restart anywhere leads to the same end', () => {
    fc.assert(
      fc.property(fc.array(deed, { minLength: 1, maxLength: 8 }), fc.nat(8), (deeds, at) => {
        const straight = deeds.filter(({ what }) => what !== 'restart');
        const [first] = straight;
        fc.pre(first !== undefined);
        const broken = straight.toSpliced(at, 0, { ...first, after: 0, what: 'restart' });
        const end = ({ state }: { state: SettleState }) => [
          arrivalOf(state).stage,
          state.reason,
          state.bytes,
          state.members.size,
        ];
        expect(end(live(broken))).toEqual(end(live(straight)));
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
