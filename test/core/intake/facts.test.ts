import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { facts, general, type Track, video } from './tracks.ts';

describe('what is not told is not known', () => {
  test('an answer with nothing in it', () => {
    const told = facts([{ '@type': 'General', Format: 'MPEG-4' }]);
    const { container, audioTracks, audioChannels, ...rest } = told;
    expect([container, audioTracks, audioChannels]).toEqual(['MP4', 0, 0]);
    expect(new Set(Object.values(rest))).toEqual(new Set([null]));
  });

  test('no field invents a value, whatever is missing or wrong', () => {
    const field = fc.constantFrom(
      'Format',
      'Width',
      'FrameRate_Num',
      'FrameRate_Den',
      'FrameRate',
      'FrameCount',
      'Duration',
      'BitDepth',
      'StreamSize',
      'Channels',
    );
    const value = fc.oneof(
      fc.string(),
      fc.constantFrom('0', '-1', 'NaN', '', '1 / 2', '25', '1e400'),
      fc.integer(),
      fc.constant(null),
    );
    fc.assert(
      fc.property(
        fc.array(fc.dictionary(field, value)),
        fc.constantFrom('General', 'Video', 'Audio', 'Image', 'Other'),
        (parts, type) => {
          const told = facts(parts.map((part) => ({ ...part, '@type': type })));
          for (const fact of Object.values(told)) {
            if (typeof fact === 'number') expect(Number.isFinite(fact) && fact >= 0).toBe(true);
          }
        },
      ),
    );
  });

  test('a value told twice is one value; two values are none', () => {
    expect(facts([general(), video({ StreamSize: '173768 / 173768' })]).videoBytes).toBe(173_768);
    expect(facts([general(), video({ StreamSize: '173768 / 39936' })]).videoBytes).toBeNull();
  });
});

describe('duration', () => {
  test('is that of the picture, not of the longest track', () => {
    const told = facts(
      [general({ Duration: '13.013' }), video({ Duration: '12.079', FrameCount: undefined })],
      1_509_875,
    );
    expect(told).toMatchObject({ durationSeconds: 12.079, overallBitrate: 1_000_000 });
  });

  test('is exact where frames and rate tell it', () => {
    const ntsc = { FrameRate_Num: '30000', FrameRate_Den: '1001', FrameCount: '9', Duration: '0.301' };
    expect(facts([general(), video(ntsc)]).durationSeconds).toBeCloseTo(0.3003, 12);
  });

  test('is what is told where frames and rate say something else', () => {
    expect(facts([general(), video({ FrameCount: '50' })]).durationSeconds).toBe(4);
  });

  test('of sound comes from its samples', () => {
    const told = facts([
      general({ Format: 'Wave' }),
      {
        '@type': 'Audio',
        Format: 'PCM',
        SamplingCount: '24001',
        SamplingRate: '48000',
        Duration: '0.500',
        Channels: '2',
        BitDepth: '24',
      },
    ]);
    expect(told).toMatchObject({
      container: 'WAV',
      codec: 'PCM',
      durationSeconds: 24001 / 48000,
      audioTracks: 1,
      audioChannels: 2,
      bitDepth: 24,
      frames: null,
    });
  });
});

describe('picture', () => {
  const track = (fields: Track) => facts([general(), video(fields)]);

  test('ProRes depth comes from the codec; nothing else is assumed', () => {
    expect(track({ Format: 'ProRes', Format_Profile: '422 HQ' })).toMatchObject({
      codec: 'ProRes 422 HQ',
      profile: '422 HQ',
      bitDepth: 10,
    });
    expect(track({ Format: 'ProRes', Format_Profile: '4444 XQ' })).toMatchObject({
      codec: 'ProRes 4444 XQ',
      bitDepth: 12,
    });
    expect(track({ Format: 'ProRes RAW', Format_Profile: 'HQ' })).toMatchObject({
      codec: 'ProRes RAW HQ',
      bitDepth: null,
    });
    expect(track({ Format: 'AVC' }).bitDepth).toBeNull();
  });

  test.each([
    ['Progressive', 'progressive'],
    ['Interlaced', 'interlaced'],
    ['MBAFF', 'interlaced'],
    ['PAFF', 'interlaced'],
    [undefined, null],
    ['Guess', null],
  ])('scan %s is %s', (told, wanted) => expect(track({ ScanType: told }).scan).toBe(wanted));

  test('DV is asked in the stream; a wrapping calls it progressive by habit', () => {
    expect(track({ Format: 'DV', ScanType: 'Progressive', ScanType_Original: 'Interlaced' }).scan).toBe('interlaced');
    expect(track({ Format: 'AVC', ScanType: 'Progressive', ScanType_Original: 'Interlaced' }).scan).toBe('progressive');
  });

  test('D-10 shows fewer lines than it stores (SMPTE ST 356); no other codec is touched', () => {
    expect(track({ Format: 'MPEG Video', Width: '720', Height: '608' }).height).toBe(576);
    expect(track({ Format: 'MPEG Video', Width: '720', Height: '512' }).height).toBe(486);
    expect(track({ Format: 'AVC', Width: '1080', Height: '608' }).height).toBe(608);
  });

  test('names are the trade names', () => {
    const named = (fields: Track) => {
      const { codec, profile } = track(fields);
      return [codec, profile];
    };
    expect(named({ Format: 'VC-3', Format_Profile: 'RI', Format_Commercial_IfAny: 'DNxHR HQX' })).toEqual([
      'DNxHR HQX',
      'HQX',
    ]);
    expect(named({ Format: 'VC-3', Format_Profile: 'HD', Format_Commercial_IfAny: 'DNxHD 120' })).toEqual([
      'DNxHD',
      'DNxHD 120',
    ]);
    expect(named({ Format: 'AVC', Format_Profile: 'High 4:2:2 Intra', Format_Level: '4.1' })).toEqual([
      'H.264',
      'High 4:2:2 Intra@L4.1',
    ]);
    expect(named({ Format: 'AVC', Format_Profile: 'High', Format_Commercial_IfAny: 'AVC-Intra 100' })).toEqual([
      'H.264',
      'AVC-Intra 100',
    ]);
    expect(named({ Format: 'MPEG Video', Format_Version: '2', Format_Profile: '4:2:2', Format_Level: 'High' })).toEqual(
      ['MPEG-2', '4:2:2@High'],
    );
    expect(named({ Format: 'DV', Format_Commercial_IfAny: 'DVCAM' })).toEqual(['DV', null]);
    expect(named({ Format: 'DV', Format_Commercial_IfAny: 'DVCPRO HD' })).toEqual(['DV', 'DVCPRO HD']);
    expect(named({ Format: 'YUV', CodecID: 'v210' })).toEqual(['v210', null]);
    expect(named({ Format: 'YUV', CodecID: '0D01030102050000-0401020101020000' })).toEqual(['uncompressed YUV', null]);
    expect(named({ Format: 'CineForm' })).toEqual(['CineForm', null]);
  });

  test('a still in a movie container is no moving picture', () => {
    const told = facts([general(), video({ FrameCount: '1', Duration: '1.000' })], 30_000_000, 'CR3');
    expect(told).toMatchObject({ frames: 1, durationSeconds: null, frameRate: null, overallBitrate: null });
  });

  test('a frame of a sequence has a rate only where its own header has one', () => {
    const image = { '@type': 'Image', Format: 'DPX', Width: '2048', Height: '1080', BitDepth: '10' };
    const dpx = general({ Format: 'DPX', Format_Profile: undefined });
    expect(facts([dpx, image], 8_849_024, 'dpx')).toMatchObject({
      codec: 'DPX',
      container: 'DPX',
      frames: 1,
      videoBytes: 8_849_024,
      frameRate: null,
      variableRate: null,
    });
    // Not seen yet: the field the library uses for it elsewhere.
    expect(facts([dpx, { ...image, FrameRate: '24.000' }], 8_849_024, 'dpx').frameRate).toEqual({ num: 24, den: 1 });
  });
});
