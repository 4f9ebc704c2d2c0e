import { describe, expect, test } from 'vitest';
import { ascii, join, le32 } from './media.ts';
import { chunk, look, soundOf, sparse } from './riff-files.ts';
import { bext, data, ds64, format, ixml, speed } from './wave-files.ts';

describe('longer than 4 GB (EBU Tech 3306, ITU-R BS.2088)', () => {
  const hundredGigabytes = 100_000_000_000;
  const behind = join(
    bext({ reference: 36_990 * 48_000, date: '2027-02-11', time: '10:16:30' }),
    ixml(`<SCENE>12</SCENE>${speed({ rate: '25/1', flag: 'NDF' })}`),
  );
  const long = (magic: string, bytes: number, tail: Uint8Array) => {
    const fmt = format({ channels: 8 });
    const start = 12 + 36 + fmt.length + 8;
    const size = start + bytes + (bytes % 2) + tail.length;
    const head = join(
      ascii(magic),
      le32(0xffff_ffff),
      ascii('WAVE'),
      ds64(size - 8, bytes, bytes / 24),
      fmt,
      ascii('data'),
      le32(0xffff_ffff),
    );
    return {
      size,
      read: sparse(size, [
        [0, head],
        [size - tail.length, tail],
      ]),
    };
  };

  test.each(['RF64', 'BW64'])('%s of 100 GB, header and notes behind the sound: 2 reads', (magic) => {
    const { structure, finding, reads, bytes } = look(long(magic, hundredGigabytes - 16, behind));
    expect(finding.verdict).toBe('whole');
    expect(structure).toMatchObject({
      container: 'BWF',
      createdAt: '2027-02-11T10:16:30',
      ties: { scene: '12', timeReference: 1_775_520_000 },
      timecodes: [{ frame: 924_750 }],
      troubles: [],
    });
    expect(soundOf(structure)).toMatchObject({
      bytes: 99_999_999_984,
      samples: 4_166_666_666,
      durationSeconds: 4_166_666_666 / 48_000,
    });
    expect(reads).toBe(2);
    expect(bytes).toBeLessThan(40_000);
  });

  test('40 KB of notes behind the sound are one read', () => {
    const lines = Array.from({ length: 10 }, () => bext({}, 'A=PCM,F=48000,W=24,M=stereo\r\n'.repeat(120)));
    const { structure, reads, bytes } = look(long('RF64', hundredGigabytes - 16, join(...lines, behind)));
    expect(structure).toMatchObject({ ties: { scene: '12' }, troubles: [] });
    expect([reads, bytes < 90_000]).toEqual([2, true]);
  });

  test('a tail too long for one read is walked', () => {
    const padded = join(chunk('LIST', new Uint8Array(60_000)), chunk('elm1', new Uint8Array(70_000)), behind);
    const { structure, reads, bytes } = look(long('RF64', hundredGigabytes - 16, padded));
    expect(structure).toMatchObject({ ties: { scene: '12' }, troubles: [] });
    expect(reads).toBeLessThanOrEqual(6);
    expect(bytes).toBeLessThanOrEqual(102_400);
  });

  test('the table of ds64 has the lengths of other long chunks', () => {
    const fmt = format();
    const ahead = 5_000_000_000;
    const head = (size: number) =>
      join(
        ascii('RF64'),
        le32(0xffff_ffff),
        ascii('WAVE'),
        ds64(size - 8, 600, 100, [['levl', ahead]]),
        fmt,
        ascii('levl'),
        le32(0xffff_ffff),
      );
    const tail = data(600);
    const size = head(0).length + ahead + tail.length;
    const { structure, finding } = look({
      size,
      read: sparse(size, [
        [0, head(size)],
        [size - tail.length, tail],
      ]),
    });
    expect(finding.verdict).toBe('whole');
    expect(soundOf(structure)).toMatchObject({ samples: 100, bytes: 600 });
  });

  test('samples of what is no PCM are in ds64 (Tech 3306: instead of the fact chunk)', () => {
    const body = join(format({ tag: 0x55, bits: 0, room: 1 }), chunk('fact', le32(0xffff_ffff)), data(600));
    const file = join(ascii('RF64'), le32(0xffff_ffff), ascii('WAVE'), ds64(4 + 36 + body.length, 600, 24_000), body);
    expect(soundOf(look(file).structure)).toMatchObject({ bytes: 600, samples: 24_000, durationSeconds: 0.5 });
  });

  test('sizes that are not written: still recording', () => {
    const file = join(
      ascii('RF64'),
      le32(0xffff_ffff),
      ascii('WAVE'),
      ds64(0, 0, 0),
      format(),
      chunk('data', new Uint8Array(600), 0xffff_ffff),
    );
    const { structure, finding } = look(file);
    expect(finding.verdict).toBe('cut');
    expect(soundOf(structure)).toMatchObject({
      channels: 2,
      bitDepth: 24,
      samples: null,
      durationSeconds: null,
      bytes: null,
    });
    expect(structure.troubles).toEqual([
      'the sizes in the header are not written',
      'the length of the sound is not written',
    ]);
  });
});
