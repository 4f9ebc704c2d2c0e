import type { Box } from './bmff-boxes.ts';
import { ratio } from './bmff-pace.ts';
import {
  characters,
  entriesOf,
  find,
  inside,
  type Part,
  partsOf,
  readPart,
  type Tell,
  u8,
  u16,
  u32,
  version,
} from './bmff-parts.ts';
import type { Read } from './reading.ts';
import type { PictureTrack } from './structure.ts';

const MAX_META_BYTES = 8_388_608;

/** A still image in a file of this family (HEIF, ISO/IEC 23008-12): no index, the primary item of the file's `meta` box. */
export function stillOf(read: Read, boxes: readonly Box[], size: number, tell: Tell): PictureTrack | null {
  const box = boxes.find(({ type, end }) => type === 'meta' && end <= size);
  if (box === undefined || box.end - box.content > MAX_META_BYTES) return null;
  const parts = partsOf(readPart(read, 'meta', box.content, box.end), tell, 4);
  const handler = find(parts, 'hdlr');
  if (handler === null || characters(handler, 8) !== 'pict') return null;
  const primary = find(parts, 'pitm');
  const item = primary === null ? null : version(primary) === 0 ? u16(primary, 4) : u32(primary, 4);
  const properties = item === null ? [] : propertiesOf(parts, item, tell);
  const extent = find(properties, 'ispe');
  const turn = find(properties, 'irot');
  const aspect = find(properties, 'pasp');
  return {
    type: 'picture',
    codecId: item === null ? null : itemType(parts, item, tell),
    width: extent === null ? null : u32(extent, 4) || null,
    height: extent === null ? null : u32(extent, 8) || null,
    pixelAspect: aspect === null ? null : ratio(u32(aspect, 0), u32(aspect, 4)),
    rotation: QUARTERS[turn === null ? 0 : u8(turn, 0) & 3] ?? 0,
    frameRate: null,
    variableRate: null,
    frames: 1,
    durationSeconds: null,
    bytes: null,
    scan: null,
    bitDepth: null,
    chroma: null,
  };
}

/** Clause 6.5.10: quarter turns anti-clockwise. */
const QUARTERS = [0, 270, 180, 90] as const;

/** Clause 9.3: the properties an item is associated with, by their place in the list of all. */
function propertiesOf(parts: readonly Part[], item: number, tell: Tell): Part[] {
  const containers = inside(parts, 'iprp', tell);
  const all = inside(containers, 'ipco', tell);
  const table = find(containers, 'ipma');
  if (table === null) return [];
  const idBytes = version(table) === 0 ? 2 : 4;
  const width = u8(table, 3) & 1 ? 2 : 1;
  const items = entriesOf(table, 8, u32(table, 4), idBytes + 1, tell);
  let at = 8;
  for (let index = 0; index < items; index += 1) {
    const id = idBytes === 2 ? u16(table, at) : u32(table, at);
    const associations = u8(table, at + idBytes);
    at += idBytes + 1;
    if (id === item) {
      return Array.from({ length: associations }, (_, one) => {
        // The first bit says that a reader must know the property.
        const place = width === 2 ? u16(table, at + one * 2) & 0x7fff : u8(table, at + one) & 0x7f;
        return all[place - 1];
      }).filter((property) => property !== undefined);
    }
    at += associations * width;
  }
  return [];
}

/** ISO/IEC 14496-12 clause 8.11.6, item information of version 2 and 3. */
function itemType(parts: readonly Part[], item: number, tell: Tell): string | null {
  const list = find(parts, 'iinf');
  if (list === null) return null;
  for (const entry of partsOf(list, tell, version(list) === 0 ? 6 : 8)) {
    const wide = version(entry) === 3;
    if (entry.type !== 'infe' || version(entry) < 2 || (wide ? u32(entry, 4) : u16(entry, 4)) !== item) continue;
    const type = characters(entry, wide ? 10 : 8);
    return /^[\x20-\x7e]{4}$/.test(type) ? type : null;
  }
  return null;
}
