import { describe, expect, test } from 'vitest';
import { be32 } from './media.ts';
import {
  be16,
  fill,
  indexSegment,
  join,
  key,
  klv,
  label,
  mxf,
  type Property,
  pictureElement,
  ratio,
  set,
} from './mxf-build.ts';
import { labelOf, pictureOf, soundsOf, structureOf } from './mxf-files.ts';
import { constant, frames, take, takeFile, UNIT } from './mxf-take.ts';

describe('an open header', () => {
  const open = (more: Partial<Parameters<typeof mxf>[0]> = {}, duration = -1) =>
    structureOf(mxf({ metadata: take({ duration }), headerStatus: 1, essence: frames(4), ...more }));
  const NEVER_CLOSED = 'the header was never closed';

  test('length from the index: of segments with entries, of units of constant size', () => {
    const segments = join(
      indexSegment({ duration: 3, offsets: [0, UNIT, 2 * UNIT] }),
      indexSegment({ start: 3, duration: 1, offsets: [3 * UNIT] }),
    );
    const counted = open({ index: segments, indexIn: 'footer' });
    expect(pictureOf(counted)).toMatchObject({ frames: 4, durationSeconds: 0.16, bytes: null });
    expect(counted.troubles).toEqual([NEVER_CLOSED]);
    expect(pictureOf(open({ index: constant }))).toMatchObject({ frames: 4, bytes: 4000 });
    expect(pictureOf(open({ index: constant }, 0))).toMatchObject({ frames: 4, bytes: 4000 });
    expect(pictureOf(open({ index: constant, indexIn: 'own' }))).toMatchObject({ frames: 4, bytes: 4000 });
  });

  test('without index or end nothing is known', () => {
    expect(pictureOf(open())).toMatchObject({ frames: null, durationSeconds: null, bytes: null });
    const growing = open({ index: constant, footer: false });
    expect(pictureOf(growing)).toMatchObject({ frames: null, bytes: null });
    expect(growing.troubles).toEqual([`${NEVER_CLOSED}: the take is still being recorded, or was broken off`]);
  });

  test('a complete repetition in the footer is believed; without one, or behind a closed header, it is not', () => {
    const footerMetadata = take({ duration: 4 });
    const closed = open({ footerMetadata });
    expect([pictureOf(closed).frames, closed.troubles]).toEqual([4, []]);
    expect(pictureOf(open({ footerMetadata, footerStatus: 2 })).frames).toBeNull();
    const both = mxf({ metadata: take(), footerMetadata: take({ material: { start: 0 } }), essence: frames(4) });
    expect(labelOf(structureOf(both).timecodes[0])).toBe('01:00:00:00');
  });

  test('damaged metadata in the header give way to those in the footer', () => {
    const metadata = take();
    metadata.fill(0xff, 28, 200);
    const { tracks, troubles } = structureOf(mxf({ metadata, footerMetadata: take(), essence: frames(4) }));
    expect([tracks.length, troubles]).toEqual([1, []]);
    const neither = structureOf(mxf({ metadata, essence: frames(4) }));
    expect(neither.tracks).toEqual([]);
    expect(neither.troubles).toEqual([
      'the header metadata are damaged or cut off',
      'there are no readable header metadata',
    ]);
  });
});

describe('what contradicts itself', () => {
  test('header and room', () => {
    const more = structureOf(takeFile({ duration: 40 }));
    expect(pictureOf(more)).toMatchObject({ frames: null, durationSeconds: null, bytes: null });
    expect(more.troubles).toEqual(['the header tells 40 edit units, and there is room for 4']);
    expect(structureOf(takeFile({ duration: 2 })).troubles).toEqual([
      'the header tells 2 edit units, and there is room for 4',
    ]);
  });

  test('header and index', () => {
    const index = indexSegment({ duration: 3, offsets: [0, UNIT, 2 * UNIT] });
    const structure = structureOf(mxf({ metadata: take(), index, indexIn: 'footer', essence: frames(4) }));
    expect(pictureOf(structure).frames).toBeNull();
    expect(structure.troubles).toEqual(['the header tells 4 edit units, the index 3']);
  });

  test('a file that was cut', () => {
    const whole = mxf({ metadata: take(), index: constant, essence: frames(4) });
    const cut = structureOf(whole.subarray(0, whole.length - 600));
    expect(pictureOf(cut)).toMatchObject({ frames: null, bytes: null });
    expect(cut.troubles).toEqual(['the header tells 4 edit units, and there is room for 3']);
    const long = mxf({ metadata: take(), essence: frames(4) });
    expect(structureOf(long.subarray(0, long.length - 600)).troubles).toEqual([
      'the header tells 4 edit units, but the end of the file is missing',
    ]);
  });
});

describe('bytes of the picture', () => {
  const bytesOf = (options: Parameters<typeof mxf>[0]) =>
    pictureOf(structureOf(mxf({ metadata: take(), ...options }))).bytes;

  test('units of constant size: values alone, without keys, lengths and fill', () => {
    expect(bytesOf({ index: constant, essence: frames(4) })).toBe(4000);
    const padded = join(...Array.from({ length: 4 }, () => join(pictureElement(1000), fill(516))));
    const index = indexSegment({ unitBytes: 1536, elements: [0] });
    expect(bytesOf({ index, essence: padded, grid: 512 })).toBe(4000);
    expect(bytesOf({ index, essence: padded })).toBeNull();
  });

  test('the place of the element is that of the index', () => {
    const sound = klv(key('060e2b34 01020101 0d010301 16010300'), new Uint8Array(300));
    const essence = join(...Array.from({ length: 4 }, () => join(pictureElement(1000), sound)));
    const unitBytes = UNIT + sound.length;
    expect(bytesOf({ index: indexSegment({ unitBytes, elements: [0, UNIT] }), essence })).toBe(4000);
    expect(bytesOf({ index: indexSegment({ unitBytes }), essence })).toBeNull();
    expect(bytesOf({ index: indexSegment({ unitBytes, elements: [0, 900] }), essence })).toBeNull();
  });

  test('an index in units of another rate is not that of the track', () => {
    const index = indexSegment({ unitBytes: UNIT, rate: [48_000, 1] });
    const structure = structureOf(mxf({ metadata: take({ duration: 100 }), index, essence: frames(4) }));
    expect(pictureOf(structure)).toMatchObject({ frames: 100, bytes: null });
    expect(structure.troubles).toEqual([]);
  });

  test('a last unit that is not like the first', () => {
    const essence = join(frames(3), pictureElement(950), fill(50));
    expect(bytesOf({ index: constant, essence })).toBeNull();
  });

  test('one element for the whole take, short length or long, fill behind it', () => {
    expect(bytesOf({ essence: pictureElement(54_321, true) })).toBe(54_321);
    expect(bytesOf({ essence: join(pictureElement(54_321), fill(100)) })).toBe(54_321);
    expect(bytesOf({ essence: pictureElement(54_321), essenceInHeader: true })).toBe(54_321);
    expect(bytesOf({ essence: pictureElement(54_321), randomIndex: false })).toBe(54_321);
    expect(bytesOf({ essence: join(pictureElement(54_321), pictureElement(100)) })).toBeNull();
  });

  test('one element, checked against an index of its units', () => {
    const index = indexSegment({ unitBytes: 1000 });
    expect(bytesOf({ index, essence: pictureElement(4000) })).toBe(4000);
    const short = structureOf(mxf({ metadata: take(), index, essence: pictureElement(3000) }));
    expect(short.troubles).toEqual(['the header tells 4 edit units, and there is room for 3']);
  });

  test('another track has the element', () => {
    expect(bytesOf({ metadata: take({ trackNumber: key('15010501') }), essence: pictureElement(4000) })).toBeNull();
    expect(bytesOf({ metadata: take({ trackNumber: [0, 0, 0, 0] }), essence: pictureElement(4000) })).toBe(4000);
  });
});

describe('sound', () => {
  const soundSet = (id: number, linked: number, ...more: Property[]) =>
    set(
      0x48,
      id,
      ...more,
      [0x3006, be32(linked)],
      [0x3001, ratio(48_000, 1)],
      [0x3004, label('0d010301 02060100')],
      [0x3d03, ratio(48_000, 1)],
      [0x3d07, be32(2)],
      [0x3d01, be32(24)],
      [0x3d0a, be16(6)],
    );
  /** A take of nothing but sound: the descriptor of `take` is replaced. */
  const soundFile = (rate: [number, number], duration: number, ...more: Property[]) => {
    const metadata = join(take({ rate, duration, trackNumber: key('16010100') }), soundSet(21, 2, ...more));
    return structureOf(mxf({ metadata, essence: pictureElement(99) }));
  };

  test('samples and bytes from the length in edit units of the track', () => {
    expect(soundsOf(soundFile([25, 1], 4))).toMatchObject([
      { channels: 2, sampleRate: 48_000, bitDepth: 24, samples: 7680, durationSeconds: 0.16, bytes: null },
    ]);
  });

  test('a part of five frames at 29.97 has no whole number of samples', () => {
    const [part] = soundsOf(soundFile([30000, 1001], 4));
    expect(part).toMatchObject({ samples: null, bytes: null });
    expect(part?.durationSeconds).toBeCloseTo((4 * 1001) / 30000, 12);
    expect(soundsOf(soundFile([30000, 1001], 5))[0]?.samples).toBe(8008);
  });

  test('compressed sound has no bytes that follow from its samples', () => {
    expect(soundsOf(soundFile([25, 1], 4, [0x3d06, label('04020202 03010000')]))[0]).toMatchObject({
      ...{ codecId: '060e2b340401010a0402020203010000', bytes: null },
    });
  });
});
