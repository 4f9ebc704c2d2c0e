import { describe, expect, test } from 'vitest';
import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { mergeFacts } from '../../../src/core/intake/merge-facts.ts';
import type { ClipFacts } from '../../../src/core/model.ts';

const r25 = { num: 25, den: 1 };
const facts = (told: Partial<ClipFacts>): ClipFacts => ({ ...NO_FACTS, ...told });
const merge = (structure: Partial<ClipFacts> | null, reader: Partial<ClipFacts> | null, size = 1_000_000) =>
  mergeFacts(structure, reader, size);

describe('which of the two counts', () => {
  test('nothing was told: nothing is known', () => {
    expect(merge(null, null)).toEqual({ facts: NO_FACTS, sources: {}, disagreements: [] });
    expect(merge(facts({}), facts({}))).toEqual({ facts: NO_FACTS, sources: {}, disagreements: [] });
  });

  test('what one alone tells, with its name', () => {
    expect(merge({ reel: 'A001' }, { profile: 'High' })).toMatchObject({
      facts: { reel: 'A001', profile: 'High' },
      sources: { reel: 'structure', profile: 'reader' },
      disagreements: [],
    });
  });

  test('what both tell alike', () => {
    expect(merge({ width: 1920, scan: 'progressive' }, { width: 1920, scan: 'progressive' }).sources).toEqual({
      width: 'both',
      scan: 'both',
    });
  });

  test('the container counts for figures, the reader for what needs to know the codec; both are kept, none averaged', () => {
    const merged = merge(
      { frames: 250, bitDepth: 8, scan: 'interlaced' },
      { frames: 248, bitDepth: 10, scan: 'progressive' },
    );
    expect(merged.facts).toMatchObject({ frames: 250, bitDepth: 10, scan: 'progressive' });
    expect(merged.sources).toEqual({ frames: 'structure', bitDepth: 'reader', scan: 'reader' });
    expect(merged.disagreements).toEqual([
      { fact: 'scan', structure: 'interlaced', reader: 'progressive' },
      { fact: 'bitDepth', structure: '8', reader: '10' },
      { fact: 'frames', structure: '250', reader: '248' },
    ]);
  });
});

describe('what is the same', () => {
  test.each<[string, Partial<ClipFacts>, Partial<ClipFacts>]>([
    ['a rate in thousandths', { frameRate: { num: 24000, den: 1001 } }, { frameRate: { num: 23976, den: 1000 } }],
    ['a length to the millisecond', { durationSeconds: 10.0004 }, { durationSeconds: 10.001 }],
    ['a length to a frame', { durationSeconds: 10, frameRate: r25 }, { durationSeconds: 10.04, frameRate: r25 }],
    ['bytes but for padding', { videoBytes: 1_000_000 }, { videoBytes: 1_004_000 }],
    ['a family and a member of it', { codec: 'DNxHR' }, { codec: 'DNxHR HQX' }],
    ['an instant with and without zone', { recordedAt: '2027-02-11T08:00:00' }, { recordedAt: '2027-02-11T08:00:00Z' }],
    [
      'the usual and the mean of a rate that varies',
      { frameRate: { num: 30, den: 1 }, variableRate: true },
      { frameRate: { num: 2992, den: 100 }, variableRate: true },
    ],
  ])('%s', (_name, structure, reader) => {
    const { disagreements, sources } = merge(structure, reader);
    expect(disagreements).toEqual([]);
    expect(new Set(Object.values(sources).filter((source) => source !== 'derived'))).toEqual(new Set(['both']));
  });

  test.each<[string, Partial<ClipFacts>, Partial<ClipFacts>, object]>([
    // 1000/1001 is a thousandth: 24 and 23.976 are two rates.
    ['rates', { frameRate: { num: 24, den: 1 } }, { frameRate: { num: 24000, den: 1001 } }, ['24', '24000/1001']],
    ['lengths', { durationSeconds: 10, frameRate: r25 }, { durationSeconds: 10.05, frameRate: r25 }, ['10', '10.05']],
    ['bytes', { videoBytes: 1_000_000 }, { videoBytes: 1_006_000 }, ['1000000', '1006000']],
    ['timecodes', { startTimecode: '10:00:00:00' }, { startTimecode: '10:00:00:01' }, ['10:00:00:00', '10:00:00:01']],
    ['codecs that only begin alike', { codec: 'DV' }, { codec: 'DVCPROx' }, ['DV', 'DVCPROx']],
  ])('not so: %s', (_name, structure, reader, words) => {
    const [found, ...others] = merge(structure, reader).disagreements;
    expect(others).toEqual([]);
    expect([found?.structure, found?.reader]).toEqual(words);
  });

  test('what follows from another fact is not told twice', () => {
    const merged = merge(
      { startTimecode: '10:00:00;00', dropFrame: true },
      { startTimecode: '10:00:00:00', dropFrame: false },
    );
    expect(merged.disagreements.map(({ fact }) => fact)).toEqual(['startTimecode']);
    expect(merged.facts).toMatchObject({ startTimecode: '10:00:00;00', dropFrame: true });
  });
});

describe('rates over time', () => {
  test('are bytes over seconds, whatever the header promises', () => {
    // AVC-Intra "100" at 25 frames: 568,832 bytes a frame (SMPTE RP 2027, as in libx264's table of frame sizes), 113.8 Mb/s.
    const merged = merge(
      { durationSeconds: 10, videoBytes: 250 * 568_832 },
      { videoBitrate: 100_000_000, overallBitrate: 100_000_000 },
      150_000_000,
    );
    expect(merged.facts).toMatchObject({ videoBitrate: 113_766_400, overallBitrate: 120_000_000 });
    expect(merged.sources).toMatchObject({ videoBitrate: 'derived', overallBitrate: 'derived' });
    expect(merged.disagreements).toEqual([]);
  });

  test('are not known without a length, or with none', () => {
    for (const durationSeconds of [null, 0])
      expect(merge({ durationSeconds, videoBytes: 5 }, { videoBitrate: 7 }).facts).toMatchObject({
        videoBitrate: null,
        overallBitrate: null,
      });
  });
});
