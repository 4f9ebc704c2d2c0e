import { describe, expect, test } from 'vitest';
import type { PictureTrack, SoundTrack, Structure } from '../../../src/core/intake/container/structure.ts';
import { NO_TIES } from '../../../src/core/intake/container/structure.ts';
import { knowFile } from '../../../src/core/intake/know.ts';
import { general, type Track, video } from './tracks.ts';

const picture: PictureTrack = {
  type: 'picture',
  ...{ codecId: 'apch', width: 1920, height: 1080, pixelAspect: null, rotation: 0, frameRate: { num: 25, den: 1 } },
  ...{
    variableRate: false,
    frames: 100,
    durationSeconds: 4,
    bytes: 5_000_000,
    scan: null,
    bitDepth: null,
    chroma: null,
  },
};
const sound: SoundTrack = {
  type: 'sound',
  ...{
    codecId: 'sowt',
    channels: 2,
    sampleRate: 48_000,
    bitDepth: 16,
    samples: 192_000,
    durationSeconds: 4,
    bytes: 768_000,
  },
};
const structure = (more: Partial<Structure> = {}): Structure => ({
  container: 'QuickTime',
  tracks: [picture, sound],
  ...{ timecodes: [], reel: null, camera: null, createdAt: null, ties: NO_TIES, troubles: [] },
  ...more,
});
const know = (told: Structure | null, tracks: Track[] = [], more: { extension?: string; trouble?: string } = {}) =>
  knowFile(
    { structure: told, tracks, readerTrouble: more.trouble ?? null },
    { sizeBytes: 10_000_000, extension: more.extension ?? 'mov' },
  );

describe('the structure alone', () => {
  test('gives all that it tells; rates are worked out from it', () => {
    const known = know(structure({ reel: 'A001', camera: 'Camera 7', createdAt: '2027-02-11T08:00:00Z' }));
    expect(known?.facts).toMatchObject({
      ...{ container: 'QuickTime', codec: 'ProRes 422 HQ', profile: null, width: 1920, height: 1080 },
      ...{
        frameRate: { num: 25, den: 1 },
        variableRate: false,
        frames: 100,
        durationSeconds: 4,
        videoBytes: 5_000_000,
      },
      ...{ videoBitrate: 10_000_000, overallBitrate: 20_000_000, audioTracks: 1, audioChannels: 2, reel: 'A001' },
      ...{ camera: 'Camera 7', recordedAt: '2027-02-11T08:00:00Z', recordedAtBasis: 'container', startTimecode: null },
    });
    expect(known?.sources).toMatchObject({ codec: 'structure', videoBitrate: 'derived' });
    expect(known?.sampleRate).toBe(48_000);
  });

  test('of several timecodes the first counts, as a label', () => {
    const rate = { num: 30_000, den: 1001 };
    const at = (frame: number) => ({ place: 'timecode-track', frame, rate, drop: true, note: null }) as const;
    // SMPTE ST 12-1: 01:00:00;00 at 29.97 drop-frame is frame 107,892.
    expect(know(structure({ timecodes: [at(107_892), at(0)] }))?.facts).toMatchObject({
      startTimecode: '01:00:00;00',
      dropFrame: true,
    });
  });

  test('sound alone: its own length, depth, codec and time', () => {
    const ties = { ...NO_TIES, timeReference: 1_728_000_000 };
    const known = know(
      structure({
        container: 'BWF',
        tracks: [{ ...sound, codecId: '0x0001' }],
        ties,
        createdAt: '2027-02-11T08:00:00',
      }),
      [],
      { extension: 'wav' },
    );
    expect(known?.facts).toMatchObject({
      codec: 'PCM',
      bitDepth: 16,
      durationSeconds: 4,
      width: null,
      recordedAtBasis: 'sound-header',
    });
    expect(known?.ties).toEqual(ties);
  });

  test('a codec that no list here has is not named; of one sound without a count of channels there is no sum', () => {
    const odd = know(structure({ tracks: [{ ...picture, codecId: 'zzzz' }, sound, { ...sound, channels: null }] }));
    expect(odd?.facts).toMatchObject({ codec: null, audioTracks: 2, audioChannels: null });
    expect(know(structure({ tracks: [{ ...picture, codecId: null }] }))?.facts.codec).toBeNull();
  });

  test('a picture of one frame without time takes its whole file', () => {
    const frame = { ...picture, codecId: null, frames: 1, durationSeconds: null, frameRate: null, bytes: 8_294_400 };
    const known = know(structure({ container: 'DPX', tracks: [frame] }), [], { extension: 'dpx' });
    expect(known?.facts).toMatchObject({
      frames: 1,
      videoBytes: 10_000_000,
      durationSeconds: null,
      videoBitrate: null,
    });
  });

  test('a still in a movie container has no time', () => {
    const known = know(structure({ container: 'MP4', tracks: [{ ...picture, frames: 1 }] }), [], { extension: 'HEIC' });
    expect(known?.facts).toMatchObject({
      ...{
        frames: 1,
        videoBytes: 10_000_000,
        frameRate: null,
        durationSeconds: null,
        startTimecode: null,
        overallBitrate: null,
      },
    });
  });
});

describe('both', () => {
  test('agree, or are kept apart', () => {
    const told = [
      general(),
      video({ Format: 'ProRes', Format_Profile: '422 HQ', Width: '1920', Height: '1088', StreamSize: '5000000' }),
    ];
    const known = know(structure({ tracks: [picture] }), told);
    expect(known?.sources).toMatchObject({ codec: 'both', width: 'both', height: 'structure', videoBytes: 'both' });
    expect(known?.disagreements).toEqual([{ fact: 'height', structure: '1080', reader: '1088' }]);
  });

  test('what was wrong with either is told, the container first', () => {
    const known = know(structure({ troubles: ['the index is odd'] }), [], {
      trouble: 'the media reader gave up on it',
    });
    expect(known?.troubles).toEqual(['the index is odd', 'the media reader gave up on it']);
  });
});

describe('nothing', () => {
  test.each<[string, Structure | null, Track[]]>([
    ['neither told anything', null, []],
    ['the reader knows the container alone', null, [general()]],
    ['a container of neither picture nor sound', structure({ tracks: [{ type: 'other', codecId: 'tmcd' }] }), []],
  ])('%s', (_name, told, tracks) => expect(know(told, tracks)).toBeNull());

  test('of the structure: what the reader found counts, and what was wrong is told', () => {
    const none = structure({ tracks: [], troubles: ['there is no index (box moov)'] });
    const known = know(none, [general(), video({ Width: '640' })]);
    expect([known?.facts.width, known?.sources.width, known?.troubles]).toEqual([
      640,
      'reader',
      ['there is no index (box moov)'],
    ]);
  });
});
