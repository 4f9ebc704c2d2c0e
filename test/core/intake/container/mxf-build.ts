import { be32 } from './media.ts';

/*
 * MXF files made byte by byte, as SMPTE ST 377-1 lays them down: what no encoder at hand writes. Tags and keys are written out
 * here again on purpose, from the standard's tables, so that a wrong one in the reader cannot agree with itself.
 */

type Bytes = Uint8Array | readonly number[];

/** One after the other, also where there are megabytes of it. */
export function join(...parts: Bytes[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

export function be16(value: number): number[] {
  return [(value >> 8) & 255, value & 255];
}

export function be64(value: number): number[] {
  return value < 0 ? Array(8).fill(255) : [...be32(Math.floor(value / 2 ** 32)), ...be32(value % 2 ** 32)];
}

function fromHex(text: string): number[] {
  return (text.match(/../g) ?? []).map((byte) => Number.parseInt(byte, 16));
}

/** A key of 16 bytes, written as hex with spaces. */
export function key(text: string): number[] {
  return fromHex(text.replaceAll(' ', ''));
}

/** Length as four bytes (83 and three), or as nine. */
export function klv(name: number[], value: Bytes, long = false): Uint8Array {
  const length = long ? [0x88, ...be64(value.length)] : [0x83, ...be32(value.length).slice(1)];
  return join(name, length, value);
}

const FILL = key('060e2b34 01010102 03010210 01000000');
export const fill = (bytes: number) => klv(FILL, new Uint8Array(bytes - 20));

/** Fill up to a multiple of `grid`. */
function padded(bytes: Uint8Array, grid: number): Uint8Array {
  const rest = (grid - (bytes.length % grid)) % grid;
  return rest === 0 ? bytes : join(bytes, fill(rest < 20 ? rest + grid : rest));
}

export type Property = readonly [tag: number, value: Bytes];

export function set(kind: number, id: number, ...properties: Property[]): Uint8Array {
  const all: Property[] = [[0x3c0a, identity(id)], ...properties];
  const body = all.map(([tag, value]) => join(be16(tag), be16(value.length), value));
  return klv([...key('060e2b34 02530101 0d010101 0101'), kind, 0], join(...body));
}

export function identity(id: number): number[] {
  return [...be32(0x5a17), ...be32(0), ...be32(0), ...be32(id)];
}

export function references(...ids: number[]): number[] {
  return [...be32(ids.length), ...be32(16), ...ids.flatMap(identity)];
}

/** Identifier of a package: label, length, instance, and a material number that ends in this number. */
export function packageId(number: number): number[] {
  return [...key('060a2b34 01010105 01010d00 13000000'), ...be32(0x5a17), ...be32(0), ...be32(0), ...be32(number)];
}

export const ratio = (num: number, den: number) => [...be32(num), ...be32(den)];
export const label = (rest: string) => key(`060e2b34 0401010a ${rest}`);

export function primer(...entries: [tag: number, label: number[]][]): Uint8Array {
  const items = entries.flatMap(([tag, name]) => [...be16(tag), ...name]);
  return klv(key('060e2b34 02050101 0d010201 01050100'), [...be32(entries.length), ...be32(18), ...items]);
}

interface PackOptions {
  kind: 2 | 3 | 4;
  status: number;
  at: number;
  previous?: number;
  footer: number;
  metadata?: number;
  index?: number;
  indexId?: number;
  bodyId?: number;
  grid: number;
  pattern: number[];
}

function pack(options: PackOptions): Uint8Array {
  const { kind, status, at, previous = 0, footer, metadata = 0, index = 0, indexId = 0, bodyId = 0 } = options;
  const value = join(
    [...be16(1), ...be16(3), ...be32(options.grid)],
    [...be64(at), ...be64(previous), ...be64(footer), ...be64(metadata), ...be64(index)],
    [...be32(indexId), ...be64(0), ...be32(bodyId), ...options.pattern, ...be32(0), ...be32(16)],
  );
  return klv([...key('060e2b34 02050101 0d010201 01'), kind, status, 0], value);
}

export const OP1A = label('0d010201 01010900');

export interface FileOptions {
  metadata?: Uint8Array;
  footerMetadata?: Uint8Array;
  headerStatus?: number;
  footerStatus?: number;
  /** Index table segments, and where they are. */
  index?: Uint8Array;
  indexIn?: 'header' | 'footer' | 'own';
  essence?: Uint8Array;
  /** Essence behind the header metadata, without a partition of its own. */
  essenceInHeader?: boolean;
  runIn?: number;
  grid?: number;
  pattern?: number[];
  randomIndex?: boolean;
  footer?: boolean;
}

export const BODY = 1;
export const INDEX = 2;

/** Header, essence, footer and random index pack, without padding unless a grid is asked for. */
export function mxf(options: FileOptions): Uint8Array {
  const { essence = new Uint8Array(0) } = options;
  const { front, back } = mxfAround(options, essence.length);
  return join(front, essence, back);
}

/** What stands in front of and behind so many bytes of essence. */
export function mxfAround(options: FileOptions, essenceBytes: number): { front: Uint8Array; back: Uint8Array } {
  const { grid = 1, pattern = OP1A, indexIn = 'header', index } = options;
  const metadata = padded(options.metadata ?? new Uint8Array(0), grid);
  const repeated = padded(options.footerMetadata ?? new Uint8Array(0), grid);
  const segments = index === undefined ? new Uint8Array(0) : padded(index, grid);
  const here = (place: string) => (indexIn === place ? segments : new Uint8Array(0));
  const size = padded(pack({ kind: 2, status: 4, at: 0, footer: 0, grid, pattern }), grid).length;
  const inHeader = options.essenceInHeader === true;
  const own = here('own').length > 0 ? size + here('own').length : 0;
  const bodyAt = size + metadata.length + here('header').length + own;
  const footerAt = bodyAt + (inHeader ? 0 : size) + essenceBytes;
  const hasFooter = options.footer !== false;
  const common = { footer: hasFooter ? footerAt : 0, grid, pattern };
  const ids = (bytes: Uint8Array) => (bytes.length > 0 ? { index: bytes.length, indexId: INDEX } : {});
  const bodyId = inHeader ? BODY : 0;
  const status = options.headerStatus ?? 4;
  const header = { ...common, ...ids(here('header')), kind: 2 as const, status, metadata: metadata.length, bodyId };
  const parts = [padded(pack({ ...header, at: 0 }), grid), metadata, here('header')];
  const listed = [[bodyId, 0]];
  if (own > 0) {
    const at = bodyAt - own;
    parts.push(padded(pack({ ...common, ...ids(segments), kind: 3, status: 4, at }), grid), segments);
    listed.push([0, at]);
  }
  if (!inHeader) {
    parts.push(padded(pack({ ...common, kind: 3, status: 4, at: bodyAt, bodyId: BODY }), grid));
    listed.push([BODY, bodyAt]);
  }
  const back: Uint8Array[] = [];
  if (hasFooter) {
    const previous = inHeader ? 0 : bodyAt;
    const footer = { ...common, ...ids(here('footer')), kind: 4 as const, status: options.footerStatus ?? 4 };
    const closing = pack({ ...footer, at: footerAt, previous, metadata: repeated.length });
    back.push(padded(closing, grid), repeated, here('footer'));
    listed.push([0, footerAt]);
  }
  if (hasFooter && options.randomIndex !== false) back.push(randomIndex(listed));
  return { front: join(new Uint8Array(options.runIn ?? 0).fill(0x2e), ...parts), back: join(...back) };
}

function randomIndex(listed: number[][]): Uint8Array {
  const entries = listed.flatMap(([id = 0, at = 0]) => [...be32(id), ...be64(at)]);
  const length = 20 + entries.length + 4;
  return klv(key('060e2b34 02050101 0d010201 01110100'), [...entries, ...be32(length)]);
}

interface IndexOptions {
  rate?: [num: number, den: number];
  unitBytes?: number;
  start?: number;
  duration?: number;
  elements?: number[];
  bodyId?: number;
  /** One entry for each edit unit, of 11 bytes. */
  offsets?: number[];
}

export function indexSegment(options: IndexOptions): Uint8Array {
  const { unitBytes = 0, start = 0, duration = 0, elements = [], offsets = [] } = options;
  const deltas = elements.flatMap((offset) => [0, 0, ...be32(offset)]);
  const entries = offsets.flatMap((offset) => [0, 0, 0x80, ...be64(offset)]);
  const properties: Property[] = [
    [0x3c0a, identity(900)],
    [0x3f0b, ratio(...(options.rate ?? [25, 1]))],
    [0x3f0c, be64(start)],
    [0x3f0d, be64(duration)],
    [0x3f05, be32(unitBytes)],
    [0x3f06, be32(INDEX)],
    [0x3f07, be32(options.bodyId ?? BODY)],
    [0x3f08, [0]],
    ...(deltas.length > 0 ? [[0x3f09, [...be32(elements.length), ...be32(6), ...deltas]] as const] : []),
    ...(entries.length > 0 ? [[0x3f0a, [...be32(offsets.length), ...be32(11), ...entries]] as const] : []),
  ];
  const body = properties.map(([tag, value]) => join(be16(tag), be16(value.length), value));
  return klv(key('060e2b34 02530101 0d010201 01100100'), join(...body));
}

/** A picture element of the generic container (SMPTE ST 379-1), number 15010500. */
export const pictureElement = (bytes: number, long = false) =>
  klv(key('060e2b34 01020101 0d010301 15010500'), new Uint8Array(bytes).fill(0x51), long);
