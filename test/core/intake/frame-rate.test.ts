import { describe, expect, test } from 'vitest';
import { exact } from '../../../src/core/intake/frame-rate.ts';
import { facts, general, mxf, type Track, video } from './tracks.ts';

describe('frame rate', () => {
  const rate = (fields: Track) => facts([general(), video(fields)]).frameRate;

  test('is what the container says, exactly', () => {
    expect(rate({ FrameRate_Num: '24000', FrameRate_Den: '1001', FrameRate: '23.976' })).toEqual({
      num: 24000,
      den: 1001,
    });
    expect(rate({ FrameRate_Num: '90000', FrameRate_Den: '3003' })).toEqual({ num: 30000, den: 1001 });
  });

  test.each([
    [29970, 1000, 30000, 1001], // raw DV, 525 lines
    [23976, 1000, 24000, 1001],
    [59940, 1000, 60000, 1001],
    [2997, 100, 30000, 1001],
    [119880, 1000, 120000, 1001],
    [25000, 1000, 25, 1],
    [24000, 1000, 24, 1],
    [29985, 1000, 5997, 200], // a telephone: near to none
    [15, 2, 15, 2],
  ])('%i/%i is %i/%i', (num, den, wantNum, wantDen) => {
    expect(exact({ num, den })).toEqual({ num: wantNum, den: wantDen });
  });

  test('from a decimal alone', () => {
    expect(rate({ FrameRate_Num: undefined, FrameRate_Den: undefined, FrameRate: '23.976' })).toEqual({
      num: 24000,
      den: 1001,
    });
  });

  test('every rate of the trade is found again from three decimals', () => {
    for (const nominal of [24, 25, 30, 48, 50, 60, 100, 120]) {
      expect(exact({ num: nominal * 1000, den: 1000 })).toEqual({ num: nominal, den: 1 });
      const pulled = Math.round((nominal * 1_000_000) / 1001);
      expect(exact({ num: pulled, den: 1000 })).toEqual({ num: nominal * 1000, den: 1001 });
    }
  });

  test('a variable rate is marked, and never made exact', () => {
    const told = facts([
      general(),
      video({ FrameRate_Mode: 'VFR', FrameRate: '29.970', FrameRate_Num: undefined, FrameRate_Den: undefined }),
    ]);
    expect(told).toMatchObject({ variableRate: true, frameRate: { num: 2997, den: 100 }, durationSeconds: 4 });
  });

  test('a transport stream without any rate is not "variable"', () => {
    const stream = {
      FrameRate_Mode: 'VFR',
      FrameRate: undefined,
      FrameRate_Num: undefined,
      FrameRate_Den: undefined,
      FrameCount: undefined,
    };
    expect(facts([general({ Format: 'MPEG-TS' }), video(stream)])).toMatchObject({
      variableRate: null,
      frameRate: null,
      frames: null,
    });
  });

  test('MXF has one edit rate, though the library gives no mode', () => {
    expect(facts([mxf(), video({ FrameRate_Mode: undefined })]).variableRate).toBe(false);
  });
});
