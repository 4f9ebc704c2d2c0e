import { be32 } from './media.ts';
import {
  BODY,
  be16,
  be64,
  INDEX,
  identity,
  indexSegment,
  join,
  key,
  label,
  mxf,
  OP1A,
  type Property,
  packageId,
  pictureElement,
  primer,
  ratio,
  references,
  set,
} from './mxf-build.ts';

/** The header metadata of a take of one picture track, and files that hold it. */

type Rate = [num: number, den: number];

interface StartsAt {
  start: number;
  base?: number;
  drop?: boolean;
  /** Edit rate of the timecode's track; that of the picture unless given. */
  rate?: Rate;
}

interface Tape extends StartsAt {
  name?: string;
  /** Where on the tape the take begins, edit units. */
  from: number;
}

export interface TakeOptions {
  /** Edit rate and length of the picture track; -1 is "not known". */
  rate?: Rate;
  duration?: number;
  /** Properties of the descriptor in front of the usual: the first of a tag counts. */
  descriptor?: Property[];
  sampleRate?: Rate;
  material?: StartsAt | null;
  file?: StartsAt | null;
  tape?: Tape | null;
  materialName?: string;
  created?: number[];
  fileCreated?: number[];
  trackNumber?: number[];
  linked?: boolean;
  primer?: Uint8Array;
  /** The package whose essence the file lists as its own. */
  essenceOf?: number;
  more?: Uint8Array[];
}

/** Label of MPEG-2 Main Profile at High Level, long GOP; and of MPEG streams in frames (SMPTE ST 381). */
const CODING = label('04010202 01030300');
const CONTAINER = label('0d010301 02046001');

/** Metadata of a take of one picture track, 1920x1080 in 25 frames unless told otherwise. */
export function take(options: TakeOptions = {}): Uint8Array {
  const { rate = [25, 1], duration = 4, material = { start: 90_000 }, file = null, tape = null } = options;
  const timecode = (id: number, code: StartsAt) => timecodeTrack(id, code, rate, duration);
  const clip = (id: number, number: number[], origin: number, start: number) => [
    track(id, 2, rate, id + 2, number),
    sequence(id + 2, id + 3, duration),
    set(
      0x11,
      id + 3,
      [0x1201, be64(start)],
      [0x1101, origin === 0 ? Array(32).fill(0) : packageId(origin)],
      [0x1102, be32(2)],
    ),
  ];
  const name = options.materialName === undefined ? [] : [[0x4402, utf16(options.materialName)] as const];
  const linked = options.linked === false ? [] : [[0x3006, be32(2)] as const];
  return join(
    options.primer ?? primer(),
    set(0x2f, 1, [0x3b03, identity(2)], [0x3b09, OP1A]),
    set(0x18, 2, [0x1901, references(10, 20, 30)], [0x1902, references(3)]),
    set(0x23, 3, [0x2701, packageId(options.essenceOf ?? 20)], [0x3f06, be32(INDEX)], [0x3f07, be32(BODY)]),
    set(
      0x36,
      10,
      [0x4401, packageId(10)],
      [0x4405, options.created ?? [7, 0xeb, 3, 4, 20, 15, 0, 0]],
      [0x4403, references(...(material === null ? [] : [100]), 110)],
      ...name,
    ),
    ...(material === null ? [] : timecode(100, material)),
    ...clip(110, [0, 0, 0, 0], 20, 0),
    set(
      0x37,
      20,
      [0x4401, packageId(20)],
      [0x4701, identity(21)],
      [0x4405, options.fileCreated ?? Array(8).fill(0)],
      [0x4403, references(...(file === null ? [] : [200]), 210)],
    ),
    ...(file === null ? [] : timecode(200, file)),
    ...clip(210, options.trackNumber ?? key('15010500'), tape === null ? 0 : 30, tape?.from ?? 0),
    set(
      0x28,
      21,
      ...(options.descriptor ?? []),
      ...linked,
      [0x3001, ratio(...(options.sampleRate ?? rate))],
      [0x3004, CONTAINER],
      [0x3201, CODING],
      [0x3203, be32(1920)],
      [0x3202, be32(1080)],
    ),
    ...(tape === null ? [] : tapePackage(tape, rate, duration)),
    ...(options.more ?? []),
  );
}

function tapePackage(tape: Tape, rate: Rate, duration: number): Uint8Array[] {
  const name = tape.name === undefined ? [] : [[0x4402, utf16(tape.name)] as const];
  return [
    set(0x37, 30, [0x4401, packageId(30)], [0x4403, references(300, 310)], [0x4701, identity(31)], ...name),
    set(0x2e, 31),
    ...timecodeTrack(300, tape, rate, duration),
    track(310, 2, rate, 312, [0, 0, 0, 0]),
  ];
}

function timecodeTrack(id: number, code: StartsAt, rate: Rate, duration: number): Uint8Array[] {
  return [
    track(id, 1, code.rate ?? rate, id + 2, [0, 0, 0, 0]),
    sequence(id + 2, id + 3, duration),
    set(
      0x14,
      id + 3,
      [0x1501, be64(code.start)],
      [0x1502, be16(code.base ?? 25)],
      [0x1503, [code.drop === true ? 1 : 0]],
    ),
  ];
}

function track(id: number, trackId: number, rate: Rate, segment: number, number: number[]): Uint8Array {
  return set(
    0x3b,
    id,
    [0x4801, be32(trackId)],
    [0x4804, number],
    [0x4b01, ratio(...rate)],
    [0x4b02, be64(0)],
    [0x4803, identity(segment)],
  );
}

function sequence(id: number, component: number, duration: number): Uint8Array {
  return set(0x0f, id, [0x0202, be64(duration)], [0x1001, references(component)]);
}

function utf16(text: string): number[] {
  return Array.from({ length: text.length }, (_, at) => be16(text.charCodeAt(at))).flat();
}

/** Bytes of an edit unit of `takeFile`: a picture of 1000 bytes with its key and length. */
export const UNIT = 1020;

export function frames(count: number): Uint8Array {
  return join(...Array.from({ length: count }, () => pictureElement(UNIT - 20)));
}

/** Units of constant size, as many as there are. */
export const constant = indexSegment({ unitBytes: UNIT });

/** Four frames of 1000 bytes, and an index that says so. */
export function takeFile(options: TakeOptions = {}): Uint8Array {
  const index = indexSegment({ unitBytes: UNIT, rate: options.rate ?? [25, 1] });
  return mxf({ metadata: take(options), index, essence: frames(4) });
}
