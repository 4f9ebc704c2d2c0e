import { describe, expect, test } from 'vitest';
import { formatTimecode, fromFrameNumber } from '../../../../src/core/intake/timecode.ts';
import { atom, be16, be64, bytes, DATA_AT, movie, namedText, structureOf, timecodeEntry, track } from './bmff-build.ts';

/** Values are those of the clauses named; ISO/IEC 14496-12 where none is, QTFF for the QuickTime File Format. */

const zeros = (length: number) => new Uint8Array(length);

describe('timecode', () => {
  interface Spec {
    counter?: number | Uint8Array;
    flags?: number;
    scale?: number;
    duration?: number;
    frames?: number;
    edits?: readonly (readonly [number, number])[];
    pictureEdits?: readonly (readonly [number, number])[];
    name?: Uint8Array;
    times?: readonly (readonly [number, number])[];
    wide?: boolean;
  }
  const file = (spec: Spec) => {
    const { flags = 0, scale = 25, duration = 1, frames = 25, times = [[1, 250]], counter = 90_000 } = spec;
    const entry = timecodeEntry(flags, scale, duration, frames, ...(spec.name === undefined ? [] : [spec.name]));
    if (spec.wide === true) entry.set(bytes('tc64'), 4);
    const edits = spec.edits === undefined ? {} : { edits: spec.edits };
    const pictureEdits = spec.pictureEdits === undefined ? {} : { edits: spec.pictureEdits };
    return movie(
      [
        track({ id: 1, times: [[250, 1]], timecodes: [2], ...pictureEdits }),
        track({ id: 2, handler: 'tmcd', timescale: scale, entry, times, sizes: [4], offset: DATA_AT, ...edits }),
      ],
      { data: bytes(counter, zeros(10_000)) },
    );
  };
  const labelled = (spec: Spec) => {
    const { timecodes, troubles } = structureOf(file(spec));
    const [first] = timecodes;
    const label = first === undefined ? null : fromFrameNumber(first.frame, first.rate, first.drop);
    return { label: label === null ? null : formatTimecode(label), note: first?.note ?? null, troubles };
  };

  test('a counter of frames', () => {
    expect(structureOf(file({})).timecodes).toEqual([
      { place: 'timecode-track', frame: 90_000, rate: { num: 25, den: 1 }, drop: false, note: null },
    ]);
    expect(labelled({})).toEqual({ label: '01:00:00:00', note: null, troubles: [] });
  });

  // SMPTE ST 12-1: 107,892 frames in the first hour of drop-frame.
  test('drop-frame', () => {
    const drop = { flags: 1, scale: 30_000, duration: 1001, frames: 30, counter: 107_892 };
    expect(labelled(drop)).toEqual({ label: '01:00:00;00', note: null, troubles: [] });
    expect(labelled({ ...drop, scale: 2997, duration: 100 }).label).toBe('01:00:00;00');
  });

  // A camera's 29 at 90000/3003; the counter is the time of day of its creation date: 19:27:57 or :58 in real time.
  test('29 frames stated at 29.97: counted in 30', () => {
    const lying = labelled({ scale: 90_000, duration: 3003, frames: 29, counter: 2_100_244 });
    expect(lying.label).toBe('19:26:48:04');
    expect(lying.note).toBe('it states 29 frames a second at 30000/1001 a second: counted as 30');
  });

  test('drop-frame at a rate that knows none', () => {
    expect(labelled({ flags: 1 })).toMatchObject({
      label: '01:00:00:00',
      note: 'drop-frame is set at 25 a second, which knows none',
    });
    expect(labelled({ flags: 1, scale: 24_000, duration: 1001, frames: 24 }).label).toMatch(/^\d\d:\d\d:\d\d:/);
  });

  test('negative counters, tape counters, more than a day', () => {
    expect(labelled({ counter: -25 })).toMatchObject({ label: '23:59:59:00', note: 'the counter is negative' });
    expect(labelled({ flags: 8 }).note).toBe('a tape counter, not a time of day');
    expect(labelled({ counter: 25 * 86_400 })).toMatchObject({
      label: '00:00:00:00',
      note: 'the counter is beyond 24 hours',
    });
  });

  test('64-bit counters', () => {
    expect(labelled({ wide: true, counter: be64(90_000) }).label).toBe('01:00:00:00');
    expect(labelled({ wide: true, counter: bytes(-1, -25) })).toMatchObject({ label: '23:59:59:00' });
    expect(structureOf(file({ wide: true, counter: be64(2 ** 60) })).timecodes).toEqual([]);
  });

  // 8.6.6: the movie's clock has 1000 ticks a second here, the timecode's 25.
  test.each([
    ['from its start, all the same', { edits: [[10_000, 0]] }, '01:00:00:00', 0],
    ['left out at the start of the timecode: later', { edits: [[9000, 25]] }, '01:00:01:00', 25],
    [
      'an empty edit before the picture: later',
      {
        pictureEdits: [
          [2000, -1],
          [9000, 0],
        ],
      },
      '01:00:02:00',
      50,
    ],
    [
      'an empty edit before both: the same',
      {
        edits: [
          [400, -1],
          [9000, 0],
        ],
        pictureEdits: [
          [400, -1],
          [9000, 0],
        ],
      },
      '01:00:00:00',
      0,
    ],
    [
      'an empty edit before the timecode alone: sooner',
      {
        edits: [
          [400, -1],
          [9000, 0],
        ],
      },
      '00:59:59:15',
      -10,
    ],
    [
      'less than a frame: the same',
      {
        pictureEdits: [
          [30, -1],
          [9000, 0],
        ],
      },
      '01:00:00:00',
      0,
    ],
    [
      'a picture whose own start is left out, with its timecode',
      { edits: [[9000, 10]], pictureEdits: [[9000, 10]] },
      '01:00:00:10',
      10,
    ],
    ['reordered pictures: their delay is no shift', { pictureEdits: [[9000, 2]] }, '01:00:00:00', 0],
  ] as const)('edit list: %s', (_, edits, label, frames) => {
    const moved = frames === 0 ? [] : [`the edit list moves the start timecode by ${frames} frames`];
    const note = frames === 0 ? null : `the edit list moves it by ${frames} frames from the counter's 90000`;
    expect(labelled(edits)).toEqual({ label, note, troubles: moved });
  });

  test('an edit list that begins behind the first counter: nothing is claimed', () => {
    const later = labelled({
      times: [
        [1, 50],
        [1, 200],
      ],
      edits: [[8000, 60]],
    });
    expect(later.label).toBeNull();
    expect(later.troubles).toEqual([
      'a timecode track begins, by its edit list, where its first counter no longer counts',
    ]);
  });

  test('several: that of the picture first', () => {
    const entry = timecodeEntry(0, 25, 1, 25);
    const timecode = (id: number, offset: number) => track({ id, handler: 'tmcd', entry, sizes: [4], offset });
    const three = movie([timecode(7, DATA_AT), timecode(8, DATA_AT + 4), track({ id: 9, timecodes: [8] })], {
      data: bytes(25, 50, zeros(1000)),
    });
    expect(structureOf(three).timecodes.map(({ frame }) => frame)).toEqual([50, 25]);
    const many = movie(Array.from({ length: 12 }, (_, id) => timecode(id, DATA_AT)));
    expect(structureOf(many).timecodes).toHaveLength(8);
    expect(structureOf(many).troubles).toEqual(['12 timecode tracks: only 8 are looked at']);
  });

  test('no rate, no counter, a counter behind the end, data in another file', () => {
    const [rateless] = structureOf(file({ scale: 0 })).troubles;
    expect(rateless).toBe('a timecode track states no frame rate');
    const entry = timecodeEntry(0, 25, 1, 25);
    const none = (spec: Parameters<typeof track>[0]) =>
      structureOf(movie([track({ handler: 'tmcd', entry, ...spec })]));
    expect(none({ tables: [] })).toMatchObject({
      timecodes: [],
      troubles: ['a timecode track has no counter in this file'],
    });
    expect(none({ offset: 0x7fff_ffff }).timecodes).toEqual([]);
    expect(none({ outside: true }).troubles).toEqual(['a timecode track has its data in another file']);
  });

  test('the reel: the name of the source, in the character set that its language tells', () => {
    expect(structureOf(file({ name: namedText('name', 'SM03') })).reel).toBe('SM03');
    expect(structureOf(file({ name: namedText('name', 'Küste', 0x15c7) })).reel).toBe('Küste');
    expect(structureOf(file({ name: namedText('name', Uint8Array.of(0x4b, 0x9f, 0x73)) })).reel).toBe('Küs');
    expect(structureOf(file({ name: namedText('name', Uint8Array.of(0, 0)) })).reel).toBeNull();
    expect(structureOf(file({ name: namedText('name', Uint8Array.of(0xfe, 0xff, 0, 0x53)) })).reel).toBe('S');
    expect(structureOf(file({ name: namedText('name', Uint8Array.of(0xd8, 0xd8), 0x15c7) })).reel).toBeNull();
    expect(structureOf(file({ name: atom('name', be16(9000), be16(0), 'SM03') })).reel).toBe('SM03');
  });
});
