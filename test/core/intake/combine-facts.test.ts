import { describe, expect, test } from 'vitest';
import { NO_FACTS, NOTHING_KNOWN } from '../../../src/core/intake/clip.ts';
import { combineFacts } from '../../../src/core/intake/combine-facts.ts';
import type { KnownFacts } from '../../../src/core/intake/fact-sources.ts';
import type { ClipFacts } from '../../../src/core/model.ts';

function known(facts: Partial<ClipFacts>, more: Partial<KnownFacts> = {}): KnownFacts {
  return { ...NOTHING_KNOWN, facts: { ...NO_FACTS, ...facts }, ...more };
}

const picture = (more: Partial<ClipFacts> = {}) =>
  known({
    ...{ width: 1920, height: 1080, codec: 'H.264', durationSeconds: 10, frames: 250, videoBytes: 40_000_000 },
    ...{ audioTracks: 1, audioChannels: 2, startTimecode: '10:00:00:00' },
    ...more,
  });
const sound = (more: Partial<ClipFacts> = {}) =>
  known({ audioTracks: 1, audioChannels: 1, durationSeconds: 10, ...more });

const spans = { parts: 'spans', separateSound: 0, essenceBytes: 100_000_000 } as const;
const tracks = { parts: 'tracks', separateSound: 0, essenceBytes: 50_000_000 } as const;

describe('files that follow each other', () => {
  test('time, frames and bytes add up; the picture, and where it begins, are those of the first', () => {
    const all = combineFacts(spans, [
      picture(),
      picture({ startTimecode: '10:00:10:00' }),
      picture({ frames: 50, durationSeconds: 2, videoBytes: 8_000_000 }),
    ]);
    expect(all?.facts).toMatchObject({
      ...{ durationSeconds: 22, frames: 550, videoBytes: 88_000_000, startTimecode: '10:00:00:00', audioTracks: 1 },
      // Bytes over seconds: 88 MB in 22 s, and 100 MB of files in 22 s.
      ...{ videoBitrate: 32_000_000, overallBitrate: Math.round(8e8 / 22) },
    });
  });

  test('one part that could not be read: no sum is known, the rest is, and it is told', () => {
    const all = combineFacts(spans, [picture(), null, picture()]);
    expect(all?.facts).toMatchObject({
      width: 1920,
      durationSeconds: null,
      frames: null,
      videoBytes: null,
      videoBitrate: null,
    });
    expect(all?.troubles).toEqual(['1 of its 3 files could not be read']);
  });

  test('a rate that varies in one part varies', () => {
    const steady = picture({ variableRate: false });
    expect(combineFacts(spans, [steady, picture({ variableRate: true })])?.facts.variableRate).toBe(true);
    expect(combineFacts(spans, [steady, steady])?.facts.variableRate).toBe(false);
  });

  test('troubles are told once, disagreements of all', () => {
    const told = picture();
    const one = {
      ...told,
      troubles: ['the index is odd'],
      disagreements: [{ fact: 'frames', structure: '1', reader: '2' } as const],
    };
    const all = combineFacts(spans, [one, one]);
    expect([all?.troubles, all?.disagreements.length]).toEqual([['the index is odd'], 2]);
  });
});

describe('files that run at once', () => {
  test('lenses: as long as one, with the bytes of both', () => {
    const all = combineFacts({ ...spans, parts: 'lenses', essenceBytes: 80_000_000 }, [picture(), picture()]);
    expect(all?.facts).toMatchObject({
      durationSeconds: 10,
      frames: 250,
      videoBytes: 80_000_000,
      videoBitrate: 64_000_000,
    });
  });

  test('picture and sounds apart: the sound tracks of all, the picture of the first', () => {
    const silent = picture({ audioTracks: 0, audioChannels: 0 });
    expect(combineFacts(tracks, [silent, sound(), sound({ audioChannels: 2 })])?.facts).toMatchObject({
      ...{ durationSeconds: 10, frames: 250, videoBytes: 40_000_000, audioTracks: 2, audioChannels: 3 },
    });
  });

  test('sound alone is as long as the longest of its files', () => {
    expect(combineFacts(tracks, [sound(), sound({ durationSeconds: 12 })])?.facts.durationSeconds).toBe(12);
  });

  test('sound in a file of its own beside spans', () => {
    const all = combineFacts({ ...spans, separateSound: 1 }, [picture(), picture(), sound()]);
    expect(all?.facts).toMatchObject({ durationSeconds: 20, frames: 500, audioTracks: 2, audioChannels: 3 });
  });

  test('a sound file that could not be read: how many tracks there are is not known', () => {
    expect(combineFacts(tracks, [picture(), null])?.facts).toMatchObject({ audioTracks: null, frames: 250 });
  });
});

test('one file is what it is; where the first could not be read nothing is known', () => {
  const one = picture();
  expect(combineFacts(spans, [one])).toBe(one);
  expect(combineFacts(spans, [null, picture()])).toBeNull();
  expect(combineFacts(spans, [])).toBeNull();
});
