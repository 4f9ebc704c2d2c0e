import { describe, expect, test } from 'vitest';
import { isoDate } from '../../../src/core/intake/origin.ts';
import { facts, general, mxf, type Track, timecodeTrack, video } from './tracks.ts';

describe('timecode', () => {
  const start = (tracks: Track[]) => {
    const { startTimecode, dropFrame } = facts(tracks);
    return [startTimecode, dropFrame];
  };
  const packageTrack = (kind: string, label: string) =>
    timecodeTrack({
      TimeCode_Settings: `${kind} Package`,
      TimeCode_FirstFrame: label,
      FrameRate_Num: '25',
      FrameRate_Den: '1',
    });

  test('QuickTime: the timecode track; `;` is drop-frame', () => {
    const at2997 = { FrameRate_Num: '30000', FrameRate_Den: '1001', Title: 'A001' };
    expect(start([general(), video(), timecodeTrack({ ...at2997, TimeCode_FirstFrame: '10:59:59;28' })])).toEqual([
      '10:59:59;28',
      true,
    ]);
    expect(start([general(), video(), timecodeTrack({ ...at2997, TimeCode_FirstFrame: '10:59:59:28' })])).toEqual([
      '10:59:59:28',
      false,
    ]);
    expect(start([general(), video()])).toEqual([null, null]);
  });

  test('MXF: material package before source package, `Delay` never', () => {
    const source = packageTrack('Source', '01:00:00:00');
    expect(start([mxf(), video({ Delay: '36036.000' }), source, packageTrack('Material', '10:15:00:00')])).toEqual([
      '10:15:00:00',
      false,
    ]);
    expect(start([mxf(), video({ Delay: '36036.000' })])).toEqual([null, null]);
  });

  test('MXF: a material package of zero was never given a timecode; a source package that was is right', () => {
    const tracks = [
      packageTrack('Material', '00:00:00:00'),
      packageTrack('Source', '00:00:00:00'),
      packageTrack('Source', '01:00:00:00'),
    ];
    expect(start([mxf(), video(), ...tracks])).toEqual(['01:00:00:00', false]);
    expect(start([mxf(), video(), ...tracks.slice(0, 2)])).toEqual(['00:00:00:00', false]);
  });

  test('a zero from inside the stream is no timecode; the subcode of a DV tape is one', () => {
    expect(
      start([general(), video({ TimeCode_FirstFrame: '00:00:00:00', TimeCode_Source: 'Group of pictures header' })]),
    ).toEqual([null, null]);
    expect(start([mxf(), video({ TimeCode_FirstFrame: '10:00:00:00' })])).toEqual([null, null]);
    expect(start([general({ Format: 'DV' }), video({ TimeCode_FirstFrame: '01:00:10:00' })])).toEqual([
      '01:00:10:00',
      false,
    ]);
  });

  // Two files of one camera maker: its box says 29 frames a second beside 30000/1001. The right label is that of ffprobe, and
  // agrees with the creation time in the file.
  test('a label that was counted with 29 frames a second is made again', () => {
    const tmcd = {
      FrameRate_Num: '30000',
      FrameRate_Den: '1001',
      FrameCount: '90',
      TimeCode_FirstFrame: '20:07:02:06',
      TimeCode_LastFrame: '20:07:05:08',
    };
    expect(start([general(), video(), timecodeTrack(tmcd)])).toEqual(['19:26:48:04', false]);
    const right = { ...tmcd, TimeCode_FirstFrame: '19:26:48:04', TimeCode_LastFrame: '19:26:51:03' };
    expect(start([general(), video(), timecodeTrack(right)])).toEqual(['19:26:48:04', false]);
  });

  test('over midnight, and with a jump inside, the first label stands', () => {
    const at25 = { FrameRate_Num: '25', FrameRate_Den: '1', FrameCount: '100' };
    expect(
      start([
        general(),
        video(),
        timecodeTrack({ ...at25, TimeCode_FirstFrame: '23:59:58:00', TimeCode_LastFrame: '00:00:01:24' }),
      ])[0],
    ).toBe('23:59:58:00');
    expect(
      start([
        general(),
        video(),
        timecodeTrack({ ...at25, TimeCode_FirstFrame: '10:00:00:00', TimeCode_LastFrame: '11:00:00:00' }),
      ])[0],
    ).toBe('10:00:00:00');
  });

  test('a label that cannot exist at its rate is none', () => {
    const at25 = { FrameRate_Num: '25', FrameRate_Den: '1' };
    expect(start([general(), video(), timecodeTrack({ ...at25, TimeCode_FirstFrame: '10:00:00:29' })])).toEqual([
      null,
      null,
    ]);
    expect(start([general(), video(), timecodeTrack({ ...at25, TimeCode_FirstFrame: '10:00:00;00' })])).toEqual([
      null,
      null,
    ]);
  });
});

describe('where it comes from', () => {
  test('reel: the timecode track, the MXF package; a package named after its kind has no name', () => {
    expect(facts([general(), timecodeTrack({ Title: 'A001' })]).reel).toBe('A001');
    expect(facts([general(), { '@type': 'Audio', Title: 'Boom' }]).reel).toBeNull();
    expect(facts([mxf({ PackageName: 'B001' })]).reel).toBe('B001');
    expect(facts([mxf({ PackageName: 'File Package: SMPTE 382M' })]).reel).toBeNull();
    expect(facts([general({ extra: { reel_name: 'C001' } })]).reel).toBe('C001');
  });

  test('camera: maker and model; what wrote the container is none', () => {
    expect(
      facts([general({ Encoded_Hardware_CompanyName: 'Fenwork', Encoded_Hardware_Name: 'Marram 2' })]).camera,
    ).toBe('Fenwork Marram 2');
    expect(
      facts([general({ Encoded_Hardware_CompanyName: 'Fenwork', Encoded_Hardware_Name: 'Fenwork M2' })]).camera,
    ).toBe('Fenwork M2');
    expect(
      facts([mxf({ Encoded_Application_CompanyName: 'FFmpeg', Encoded_Application_Name: 'OP1a Muxer' })]).camera,
    ).toBeNull();
  });

  test('date: the camera key before the container; a sound header is said to be one', () => {
    const both = { Recorded_Date: '2019-02-12 15:27:12+08:00', Encoded_Date: '2024-02-02 08:00:00 UTC' };
    expect(facts([general(both)])).toMatchObject({
      recordedAt: '2019-02-12T15:27:12+08:00',
      recordedAtBasis: 'container',
    });
    expect(
      facts([general({ Format: 'Wave', Encoded_Date: '2027-02-11 10:16:30', extra: { bext_Present: 'Yes' } })]),
    ).toMatchObject({
      container: 'BWF',
      recordedAt: '2027-02-11T10:16:30',
      recordedAtBasis: 'sound-header',
    });
  });

  test.each([
    ['2027-03-04 20:15:00 UTC', '2027-03-04T20:15:00Z'],
    ['UTC 2027-03-04 20:15:00', '2027-03-04T20:15:00Z'],
    ['2027-02-11 10:15:00.000', '2027-02-11T10:15:00.000'],
    ['2027-02-12T13:01:00+0100', '2027-02-12T13:01:00+01:00'],
    ['2027-02-11', '2027-02-11'],
    ['0-00-00 00:00:00.000', null],
    ['0000-00-00 00:00:00', null],
    ['1904-01-01 00:00:00 UTC', null],
    ['1970-01-01 00:00:00 UTC', null],
    ['2027-02-30 10:00:00', null],
    ['yesterday', null],
  ])('"%s" is %s', (told, wanted) => expect(isoDate(told)).toBe(wanted));

  test('sound in several tracks', () => {
    const mono = { '@type': 'Audio', Channels: '1' };
    expect(facts([mxf(), video(), mono, mono, mono, mono])).toMatchObject({ audioTracks: 4, audioChannels: 4 });
    expect(facts([mxf(), video(), mono, { '@type': 'Audio' }])).toMatchObject({ audioTracks: 2, audioChannels: null });
  });
});
