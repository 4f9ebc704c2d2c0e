import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeClip, NO_FACTS, NOTHING_KNOWN } from '../../../src/core/intake/clip.ts';
import { groupUnit, unitOf } from '../../../src/core/intake/group.ts';
import { kindOf } from '../../../src/core/intake/kind.ts';
import { clipsByLead, regroup } from '../../../src/core/intake/regroup.ts';
import type { Clip, FileRecord } from '../../../src/core/model.ts';
import { someFile } from '../../contracts/catalogue.material.ts';

function file(path: string, changes: Partial<FileRecord> = {}): FileRecord {
  const { kind } = kindOf(path);
  return someFile(path, { kind, unit: unitOf(path, kind), ...changes });
}

const FACTS = { ...NO_FACTS, codec: 'ProRes', frameRate: { num: 25, den: 1 }, durationSeconds: 10, frames: 250 };

/** The clips of a unit as they are when each was read. */
function read(files: readonly FileRecord[], at = 77): Clip[] {
  return groupUnit(files).clips.map((group) =>
    makeClip(group, { ...NOTHING_KNOWN, facts: FACTS }, { at, evidence: 'no-writer' }),
  );
}

describe('a unit grouped again', () => {
  test('without any change it is what it was, whatever its files: nothing has to be read', () => {
    const names = fc.subarray(['a.mov', 'a.mp4', 'a.wav', 'a.xml', 'a.mov.md5', 'a.mov.xmp', 'A.WAV'], {
      minLength: 1,
    });
    const frames = fc.uniqueArray(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 30 });
    const units = fc.oneof(
      names.map((list) => list.map((name) => file(`P/${name}`, { unit: 'P/a.*' }))),
      frames.map((list) => list.map((at) => file(`P/S_${String(at).padStart(4, '0')}.dpx`))),
    );
    fc.assert(
      fc.property(units, (files) => {
        const clips = read(files);
        const kinds = groupUnit(files);
        const kept = [...kinds.clips.flatMap(({ essence, sidecars }) => [...essence, ...sidecars]), ...kinds.loose];
        // As the catalogue has them: with the kinds that the first grouping showed.
        expect(regroup(kept, clipsByLead(clips, new Map()))).toMatchObject({ clips, complete: true });
      }),
    );
  });

  test('a clip goes with the file it was read from, in either direction of a swap', () => {
    const [a, b] = [file('P/a.mov'), file('P/b.mov')];
    const clips = [...read([a], 1), ...read([b], 2)];
    const known = clipsByLead(
      clips,
      new Map([
        ['P/a.mov', 'P/b.mov'],
        ['P/b.mov', 'P/a.mov'],
      ]),
    );
    expect([known.get('P/a.mov')?.readyAt, known.get('P/b.mov')?.readyAt]).toEqual([2, 1]);
  });

  test('of a file that was replaced by a moved one nothing is known any more', () => {
    const clips = [...read([file('P/a.mov')], 1), ...read([file('P/b.mov')], 2)];
    const known = clipsByLead(clips, new Map([['P/a.mov', 'P/b.mov']]));
    expect([...known].map(([path, { readyAt }]) => [path, readyAt])).toEqual([['P/b.mov', 1]]);
  });

  test('one that leads now and was never read leaves the others, and says so', () => {
    const files = [file('P/a.mov'), file('P/a.mp4'), file('P/a.xml')];
    const known = clipsByLead(read(files).slice(1), new Map());
    expect(regroup(files, known)).toMatchObject({ complete: false, clips: [{ paths: ['P/a.mp4'] }] });
  });

  test('a clip that no reader knew stays one; what was known of all frames is not said of one', () => {
    const a = file('P/a.mov');
    const [unread] = groupUnit([a]).clips.map((group) => makeClip(group, null, { at: 1, evidence: 'quiet-only' }));
    expect(regroup([a], new Map([['P/a.mov', unread as Clip]])).clips).toEqual([unread]);
    const frames = Array.from({ length: 20 }, (_, at) => file(`P/S_${String(at + 1).padStart(4, '0')}.dpx`));
    const known = clipsByLead(read(frames), new Map());
    expect(regroup(frames.slice(0, 1), known).complete).toBe(groupUnit(frames.slice(0, 1)).clips.length === 0);
    expect(regroup(frames.slice(0, 10), known).clips).toMatchObject([{ fileCount: 10, facts: { frames: 10 } }]);
  });

  test('nothing in the trash is a clip', () => {
    const trashed = file('a.mov', { area: 'trash', unit: 'a.mov' });
    expect(regroup([trashed], clipsByLead(read([trashed]), new Map()))).toEqual({
      clips: [],
      files: [trashed],
      complete: true,
    });
  });
});
