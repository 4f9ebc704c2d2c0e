import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { formatTimecode, fromFrameNumber, parseTimecode, toFrameNumber } from '../../../../src/core/intake/timecode.ts';
import type { Ratio } from '../../../../src/core/model.ts';
import { riff, structureOf } from './riff-files.ts';
import { bext, data, format, ixml, speed, wave } from './wave-files.ts';

describe('start timecode', () => {
  const samplesOf = (told: ReturnType<typeof speed>, reference: number) =>
    structureOf(wave([bext({ reference })], [ixml(told)]));
  const labelled = (told: ReturnType<typeof speed>, reference: number) =>
    samplesOf(told, reference).timecodes.map(({ frame, rate, drop }) => {
      const label = fromFrameNumber(frame, rate, drop);
      return label === null ? null : formatTimecode(label);
    });

  // 10:16:30 is 36,990 s after midnight; frames of ST 12-1 drop-frame: 01:00:00;00 is 107,892, 3599.9964 s of real time.
  test.each([
    ['25/1', 'NDF', 36_990 * 48_000, '10:16:30:00'],
    ['25/1', 'NDF', 36_990 * 48_000 + 1919, '10:16:30:00'],
    ['25/1', 'NDF', 36_990 * 48_000 + 1920, '10:16:30:01'],
    ['25/1', 'NDF', 36_990 * 48_000 - 1, '10:16:29:24'],
    ['25', 'NDF', 36_990 * 48_000, '10:16:30:00'],
    ['24/1', 'NDF', 36_990 * 48_000, '10:16:30:00'],
    ['30000/1001', 'DF', 172_799_827, '01:00:00;00'],
    ['30000/1001', 'DF', 172_799_828, '01:00:00;00'],
    ['30000/1001', 'DF', 172_799_826, '00:59:59;29'],
    // An hour of labels without drop-frame is 3603.6 s.
    ['30000/1001', 'NDF', 172_972_800, '01:00:00:00'],
    ['24000/1001', 'NDF', 172_972_800, '01:00:00:00'],
  ])('%s %s, %i samples: %s', (rate, flag, reference, label) => {
    expect(labelled(speed({ rate, flag }), reference)).toEqual([label]);
  });

  test('all of it', () => {
    expect(samplesOf(speed({ rate: '30000/1001', flag: 'DF' }), 172_799_828).timecodes).toEqual([
      { place: 'sound-header', frame: 107_892, rate: { num: 30_000, den: 1001 }, drop: true, note: null },
    ]);
  });

  test('every frame of a day, stamped with the sample before or behind its edge', () => {
    const rates: readonly (readonly [string, string])[] = [
      ['24000/1001', 'NDF'],
      ['24/1', 'NDF'],
      ['25/1', 'NDF'],
      ['30000/1001', 'NDF'],
      ['30000/1001', 'DF'],
      ['30/1', 'NDF'],
      ['50/1', 'NDF'],
      ['60000/1001', 'DF'],
    ];
    const time = fc.record({ hour: fc.nat(23), minute: fc.nat(59), second: fc.nat(59), frame: fc.nat(23) });
    fc.assert(
      fc.property(fc.constantFrom(...rates), time, fc.constantFrom(44_100, 48_000, 96_000), (told, label, samples) => {
        const [rate, flag] = told;
        const [num = 0, den = 1] = rate.split('/').map(Number);
        const two = (value: number) => String(value).padStart(2, '0');
        const text = `${two(label.hour)}:${two(label.minute)}:${two(label.second)}${flag === 'DF' ? ';' : ':'}${two(label.frame)}`;
        const parsed = parseTimecode(text);
        const frame = parsed === null ? null : toFrameNumber(parsed, { num, den } satisfies Ratio);
        // A label that drop-frame leaves out.
        fc.pre(frame !== null && frame > 0);
        const edge = BigInt(frame ?? 0) * BigInt(den) * BigInt(samples);
        for (const up of [0n, BigInt(num) - 1n]) {
          const reference = Number((edge + up) / BigInt(num));
          const file = riff(
            'WAVE',
            format({ rate: samples }),
            bext({ reference }),
            data(600),
            ixml(speed({ rate, flag })),
          );
          expect([text, structureOf(file).timecodes[0]?.frame]).toEqual([text, frame]);
        }
      }),
      { seed: 20_270_211 },
    );
  });

  test('24 hours of labels, then from the start again', () => {
    const day = 86_400 * 48_000;
    const [behind] = samplesOf(speed({ rate: '25/1', flag: 'NDF' }), day + 48_000).timecodes;
    expect(behind).toMatchObject({ frame: 25, note: 'the time reference lies behind midnight of the next day' });
    // 29.97 without drop-frame: its day is 86,486.4 s long.
    expect(labelled(speed({ rate: '30000/1001', flag: 'NDF' }), day)).toEqual(['23:58:33:20']);
  });

  test('only where rate and flag are noted', () => {
    for (const told of [speed({ rate: '25/1' }), speed({ flag: 'NDF' }), speed({ rate: '25/1', flag: '' }), ''])
      expect(samplesOf(told, 48_000)).toMatchObject({ timecodes: [], ties: { timeReference: 48_000 }, troubles: [] });
  });

  test.each([
    ['25/1', 'DF', 'the notes (iXML) tell of drop-frame at a rate that knows none'],
    ['25/0', 'NDF', 'the notes (iXML) give a timecode rate that is none'],
    ['0/1', 'NDF', 'the notes (iXML) give a timecode rate that is none'],
    ['29.97', 'NDF', 'the notes (iXML) give a timecode rate that is none'],
    ['48000/1', 'NDF', 'the notes (iXML) give a timecode rate that is none'],
  ])('%s %s', (rate, flag, words) => {
    expect(samplesOf(speed({ rate, flag }), 48_000)).toMatchObject({ timecodes: [], troubles: [words] });
  });

  test('the notes give the samples where the header does not; where both do, the header', () => {
    const told = { rate: '25/1', flag: 'NDF', high: '0', low: String(36_990 * 48_000) };
    expect(labelled(speed(told), 0)).toEqual(['10:16:30:00']);
    const both = samplesOf(speed(told), 96_000);
    expect(both.timecodes[0]?.frame).toBe(50);
    expect(both.troubles).toEqual(['the sound header (bext) and the notes (iXML) begin at different times']);
    // 2^32 samples are 89,478.485 s: 24:51:18:12.
    expect(labelled(speed({ ...told, high: '1', low: '0' }), 0)).toEqual(['00:51:18:12']);
    // Midnight itself: zero is believed where both say it.
    expect(samplesOf(speed({ ...told, low: '0' }), 0)).toMatchObject({
      timecodes: [{ frame: 0 }],
      ties: { timeReference: 0 },
    });
    for (const low of ['4294967296', '-1', 'x', '1e3'])
      expect(samplesOf(speed({ ...told, low }), 0)).toMatchObject({ timecodes: [], ties: { timeReference: null } });
  });

  // iXML: TIMESTAMP_SAMPLE_RATE is what the stamp counts in, and may differ from the rate that the file plays at.
  test('samples of the stamp and of the file', () => {
    const told = speed({ rate: '24/1', flag: 'NDF', perSecond: '48048' });
    expect(labelled(told, 36_990 * 48_048)).toEqual(['10:16:30:00']);
  });
});
