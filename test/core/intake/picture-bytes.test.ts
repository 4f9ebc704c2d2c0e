import { describe, expect, test } from 'vitest';
import { facts, general, mxf, video } from './tracks.ts';

describe('bytes of the picture', () => {
  test('QuickTime and MP4: the sample table, not the bit rate in the header', () => {
    const told = facts([
      general(),
      video({ BitRate: '2000000', BitRate_Mode: 'CBR', StreamSize: '238114', FrameCount: '25', Duration: '1.000' }),
    ]);
    expect(told).toMatchObject({ videoBytes: 238_114, videoBitrate: 1_904_912 });
  });

  test('MXF: a stream size made from a declared bit rate is not believed', () => {
    expect(facts([mxf(), video({ Format: 'MPEG Video', BitRate: '200000', StreamSize: '8000' })])).toMatchObject({
      videoBytes: null,
      videoBitrate: null,
    });
  });

  // IEC 61834, SMPTE ST 314 and ST 370: bytes of a DV frame.
  test.each([
    ['25', '1', 144_000],
    ['25', '1', 288_000],
    ['25', '1', 576_000],
    ['50', '1', 288_000],
    ['30000', '1001', 120_000],
    ['30000', '1001', 240_000],
    ['30000', '1001', 480_000],
    ['60000', '1001', 240_000],
  ])('DV in MXF at %s/%s: %i bytes a frame, whatever rate the header claims', (num, den, frame) => {
    const track = video({
      Format: 'DV',
      FrameRate_Num: num,
      FrameRate_Den: den,
      FrameCount: '250',
      Duration: undefined,
      StreamSize_Encoded: '1',
    });
    const sound = { '@type': 'Audio', StreamSize: '3840000' };
    const told = facts([mxf(), track, sound, sound], 250 * (frame + 700) + 2 * 3_840_000 + 15_000);
    expect(told.videoBytes).toBe(250 * frame);
  });

  test('DV in MXF of a size that fits no DV system is not explained away', () => {
    const track = video({ Format: 'DV', FrameCount: '250' });
    expect(facts([mxf(), track], 250 * 200_000).videoBytes).toBeNull();
    expect(facts([mxf(), track], 250 * 100_000).videoBytes).toBeNull();
  });

  test('DV in QuickTime and AVI counts what is stored; a raw stream is the file', () => {
    const dv = { Format: 'DV', FrameCount: '2', Duration: '0.080', StreamSize: '244416' };
    expect(facts([general(), video({ ...dv, StreamSize_Encoded: '288000' })])).toMatchObject({
      videoBytes: 288_000,
      videoBitrate: 28_800_000,
    });
    expect(facts([general({ Format: 'DV' }), video(dv)], 288_000)).toMatchObject({
      videoBytes: 288_000,
      videoBitrate: 28_800_000,
    });
  });

  // SMPTE ST 356: 250,000 bytes at 25, 208,541 at 29.97 for 50 Mb/s; 166,833 for 40; 125,125 for 30.
  test.each([
    ['IMX 50', '25', '1', 250_000],
    ['IMX 50', '30000', '1001', 208_541],
    ['IMX 40', '30000', '1001', 166_833],
    ['IMX 30', '30000', '1001', 125_125],
  ])('%s at %s/%s: %i bytes a frame', (name, num, den, frame) => {
    const track = video({
      Format: 'MPEG Video',
      Format_Commercial_IfAny: name,
      ...{ Width: '720', BitRate_Mode: 'CBR' },
      FrameRate_Num: num,
      FrameRate_Den: den,
      Duration: undefined,
    });
    expect(facts([mxf(), track], 100 * (frame + 3000))).toMatchObject({ videoBytes: 100 * frame, profile: name });
  });

  test('HD that the library calls D-10 is not D-10', () => {
    const hd = { Format: 'MPEG Video', Format_Commercial_IfAny: 'IMX 50', Width: '1920', BitRate_Mode: 'VBR' };
    const told = facts([mxf(), video({ ...hd, Format_Profile: '4:2:2', Format_Level: 'High' })], 25_300_000);
    expect(told).toMatchObject({ videoBytes: null, profile: '4:2:2@High' });
  });

  test('more bytes than the file has are never told: the clip is cut', () => {
    expect(facts([general(), video({ StreamSize: '10000001' })], 10_000_000)).toMatchObject({
      videoBytes: null,
      videoBitrate: null,
    });
  });
});
