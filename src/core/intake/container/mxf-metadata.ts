import { hex, type Klv, klvAt } from './mxf-klv.ts';
import { DYNAMIC_FROM, LABELS, property } from './mxf-registry.ts';
import { MAX_PARTS, startsWith, u32be, u64be } from './reading.ts';

/** Local sets with two-byte tags and lengths (SMPTE ST 336); byte 5 of the key tells the form, byte 14 the class. */
const SET_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 0x53, 1, 1, 0x0d, 1, 1, 1, 1, 1];
const PRIMER_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 5, 1, 1, 0x0d, 1, 2, 1, 1, 5, 1, 0];
const PRIMER_ENTRY = 18;
const IDENTITY_BYTES = 16;

/** The largest descriptors have some 60. */
const MAX_PROPERTIES = 512;

/** Of a list of references only so many are followed, and of a name so many characters kept. */
const MAX_REFERENCES = 256;
const MAX_TEXT = 256;

/** One set of the header metadata: its class, and where its properties stand. */
export interface MetadataSet {
  kind: number;
  bytes: Uint8Array;
  start: number;
  end: number;
  /** The writer's own tags and the static ones they stand for. */
  dynamic: ReadonlyMap<number, number>;
}

export interface Metadata {
  /** In the order of the file. */
  sets: readonly MetadataSet[];
  byIdentity: ReadonlyMap<string, MetadataSet>;
  troubles: Set<string>;
}

/**
 * Header metadata (ST 377-1 clause 9): a primer pack and sets. What is damaged is left out and told; a set that is not
 * understood is passed over, as the standard asks.
 */
export function readMetadata(bytes: Uint8Array): Metadata {
  const sets: MetadataSet[] = [];
  const byIdentity = new Map<string, MetadataSet>();
  const troubles = new Set<string>();
  let dynamic: ReadonlyMap<number, number> = new Map();
  let at = 0;
  for (let item = 0; at < bytes.length; item += 1) {
    const klv = klvAt(bytes, at);
    if (klv === null || klv.end > bytes.length) {
      troubles.add('the header metadata are damaged or cut off');
      break;
    }
    if (item >= MAX_PARTS) {
      troubles.add('there are more sets of metadata than are looked at');
      break;
    }
    if (startsWith(bytes, SET_KEY, at)) {
      const kind = bytes[at + 14] ?? 0;
      const set = { kind, bytes, start: klv.value, end: intactEnd(bytes, klv, troubles), dynamic };
      sets.push(set);
      const identity = bytesOf(set, property.instance);
      if (identity?.length === IDENTITY_BYTES) byIdentity.set(identityKey(identity, 0), set);
    } else if (startsWith(bytes, PRIMER_KEY, at)) {
      dynamic = readPrimer(bytes.subarray(klv.value, klv.end));
    }
    at = klv.end;
  }
  return { sets, byIdentity, troubles };
}

/**
 * The primer pack gives each local tag its label (ST 377-1 clause 9.2). Tags below 0x8000 have their meaning by the
 * standard; above it they are the writer's own, and only those that stand for a property known here are kept.
 */
function readPrimer(value: Uint8Array): ReadonlyMap<number, number> {
  const tags = new Map<number, number>();
  if (u32be(value, 4) !== PRIMER_ENTRY) return tags;
  const entries = Math.min(u32be(value, 0), Math.floor((value.length - 8) / PRIMER_ENTRY));
  for (let entry = 0; entry < entries; entry += 1) {
    const at = 8 + entry * PRIMER_ENTRY;
    const tag = u16(value, at);
    if (tag < DYNAMIC_FROM) continue;
    const known = LABELS.get(hex(value.subarray(at + 10, at + 18)));
    if (known !== undefined) tags.set(tag, known);
  }
  return tags;
}

/** Where the last property ends that fits into the set. */
function intactEnd(bytes: Uint8Array, set: Klv, troubles: Set<string>): number {
  let at = set.value;
  for (let found = 0; at + 4 <= set.end; found += 1) {
    if (found >= MAX_PROPERTIES) {
      troubles.add('a set of the metadata has more properties than are looked at');
      break;
    }
    const next = at + 4 + u16(bytes, at + 2);
    if (next > set.end) {
      troubles.add('a set of the metadata has a value that runs past its end');
      break;
    }
    at = next;
  }
  return at;
}

/** The value of a property; `null` where the set has none. */
export function bytesOf(set: MetadataSet, tag: number): Uint8Array | null {
  const { bytes, start, end, dynamic } = set;
  for (let at = start; at + 4 <= end; at += 4 + u16(bytes, at + 2)) {
    const own = u16(bytes, at);
    if (own === tag || (own >= DYNAMIC_FROM && dynamic.get(own) === tag)) {
      return bytes.subarray(at + 4, at + 4 + u16(bytes, at + 2));
    }
  }
  return null;
}

function u16(bytes: Uint8Array, at: number): number {
  return (bytes[at] ?? 0) * 0x100 + (bytes[at + 1] ?? 0);
}

function identityKey(bytes: Uint8Array, at: number): string {
  const two = (offset: number) => u16(bytes, at + offset);
  return String.fromCharCode(two(0), two(2), two(4), two(6), two(8), two(10), two(12), two(14));
}

/** The value of a property where it has just that many bytes. */
function exactly(set: MetadataSet, tag: number, length: number): Uint8Array | null {
  const value = bytesOf(set, tag);
  return value?.length === length ? value : null;
}

/** An unsigned number of 1, 2 or 4 bytes. */
export function numberOf(set: MetadataSet, tag: number): number | null {
  const value = bytesOf(set, tag);
  if (value?.length === 4) return u32be(value, 0);
  if (value?.length === 2) return u16(value, 0);
  return value?.length === 1 ? (value[0] ?? null) : null;
}

/** A length or position of 8 bytes; -1, which stands for "not known", and all below zero are `null`. */
export function lengthOf(set: MetadataSet, tag: number): number | null {
  const value = exactly(set, tag, 8);
  const told = value === null ? Number.NaN : u64be(value, 0);
  return Number.isSafeInteger(told) ? told : null;
}

/** A ratio with both sides above zero, as it stands in the file. */
export function ratioOf(set: MetadataSet, tag: number): { num: number; den: number } | null {
  const value = exactly(set, tag, 8);
  if (value === null) return null;
  const [num, den] = [u32be(value, 0), u32be(value, 4)];
  return num > 0 && den > 0 && num <= 0x7fff_ffff && den <= 0x7fff_ffff ? { num, den } : null;
}

/** A universal label, 16 bytes, as hex; one of zeros is none. */
export function labelOf(set: MetadataSet, tag: number): string | null {
  const value = exactly(set, tag, 16);
  return value === null || value.every((byte) => byte === 0) ? null : hex(value);
}

/** The unique identifier of a package, 32 bytes, as hex (SMPTE ST 330); one of zeros is none. */
export function packageIdOf(set: MetadataSet, tag: number): string | null {
  const value = exactly(set, tag, 32);
  return value === null || value.every((byte) => byte === 0) ? null : hex(value);
}

/** Text in UTF-16, up to its first NUL, without outer spaces; `null` when nothing is left. */
export function textOf(set: MetadataSet, tag: number): string | null {
  const value = bytesOf(set, tag) ?? new Uint8Array(0);
  const units: number[] = [];
  for (let at = 0; at + 1 < value.length && units.length < MAX_TEXT; at += 2) {
    const unit = u16(value, at);
    if (unit === 0) break;
    units.push(unit);
  }
  const text = String.fromCharCode(...units)
    .toWellFormed()
    .trim();
  return text === '' ? null : text;
}

/** The set that a reference leads to. */
export function referredBy(metadata: Metadata, set: MetadataSet, tag: number): MetadataSet | null {
  const identity = exactly(set, tag, IDENTITY_BYTES);
  return identity === null ? null : (metadata.byIdentity.get(identityKey(identity, 0)) ?? null);
}

/** The sets that a list of references leads to, each once; of a longer list the first `limit`. */
export function allReferredBy(
  metadata: Metadata,
  set: MetadataSet,
  tag: number,
  limit = MAX_REFERENCES,
): MetadataSet[] {
  const list = bytesOf(set, tag);
  if (list === null || u32be(list, 4) !== IDENTITY_BYTES) return [];
  const told = Math.min(u32be(list, 0), Math.floor((list.length - 8) / IDENTITY_BYTES));
  if (told > limit && limit === MAX_REFERENCES)
    metadata.troubles.add('a list in the metadata is longer than is looked at');
  const found = new Set<MetadataSet>();
  for (let entry = 0; entry < Math.min(told, limit); entry += 1) {
    const at = 8 + entry * IDENTITY_BYTES;
    const target = metadata.byIdentity.get(identityKey(list, at));
    if (target !== undefined) found.add(target);
  }
  return [...found];
}
