import { isoDate } from '../origin.ts';
import { bytesOf, characters, entriesOf, find, inside, type Part, partsOf, type Tell, u32 } from './bmff-parts.ts';
import { internationalText, metadataText } from './bmff-text.ts';

/** What the file's metadata say of where it comes from. */
export interface Tags {
  make: string | null;
  model: string | null;
  reel: string | null;
  createdAt: string | null;
}

const MAX_KEYS = 1000;

/**
 * Metadata keys, by the last part of their name in lower case: `com.apple.quicktime.make` and a plain `make` are one. What
 * names a program (`software`, `encoder`) is not among them.
 */
const KEYS: ReadonlyMap<string, keyof Tags> = new Map(
  Object.entries({
    make: 'make',
    manufacturer: 'make',
    model: 'model',
    modelname: 'model',
    reel_name: 'reel',
    reelname: 'reel',
    reel: 'reel',
    creationdate: 'createdAt',
  } as const),
);

/**
 * Keyed metadata (QuickTime File Format, Metadata: `keys` and `ilst`) of the movie, and the older user data texts `©mak` and
 * `©mod`. The keys count first, and of several the first.
 * @param parts the boxes in `moov`
 */
export function readTags(parts: readonly Part[], tell: Tell): Tags {
  const tags: Tags = { make: null, model: null, reel: null, createdAt: null };
  // Makers put what they like into user data: what does not fit there is no damage.
  const userData = inside(parts, 'udta', () => {});
  for (const meta of [find(parts, 'meta'), find(userData, 'meta')]) if (meta !== null) readKeyed(meta, tags, tell);
  for (const text of userData) {
    if (text.type === '\xa9mak') tags.make ??= internationalText(text);
    if (text.type === '\xa9mod') tags.model ??= internationalText(text);
  }
  return tags;
}

/** The box is a full box in ISO files and none in QuickTime: what stands where its first box begins tells. */
function readKeyed(meta: Part, tags: Tags, tell: Tell): void {
  const parts = partsOf(meta, tell, characters(meta, 4) === 'hdlr' ? 0 : 4);
  const keys = find(parts, 'keys');
  if (keys === null) return;
  const names = keyNames(keys, tell);
  for (const item of inside(parts, 'ilst', tell)) {
    // The type of an item is the number of its key, from 1 on.
    const tag = names[numberOf(item.type) - 1];
    const data = tag === undefined || tag === null ? null : find(partsOf(item, tell), 'data');
    if (tag === undefined || tag === null || data === null) continue;
    const text = metadataText(data, u32(data, 0) & 0xff_ffff);
    tags[tag] ??= tag === 'createdAt' ? isoDate(text ?? '') : text;
  }
}

function keyNames(keys: Part, tell: Tell): (keyof Tags | null)[] {
  const count = Math.min(MAX_KEYS, entriesOf(keys, 8, u32(keys, 4), 8, tell));
  const names: (keyof Tags | null)[] = [];
  let at = 8;
  for (let index = 0; index < count; index += 1) {
    const size = u32(keys, at);
    if (size < 8) break;
    const name = String.fromCharCode(...bytesOf(keys, at + 8, Math.min(size - 8, 256)));
    names.push(tagOf(name));
    at += size;
  }
  return names;
}

/** A lens has a make and a model too. */
function tagOf(name: string): keyof Tags | null {
  const last = name.slice(name.lastIndexOf('.') + 1).toLowerCase();
  return /lens/i.test(name) ? null : (KEYS.get(last) ?? null);
}

function numberOf(type: string): number {
  let number = 0;
  for (let index = 0; index < 4; index += 1) number = number * 256 + type.charCodeAt(index);
  return number;
}

/** The camera by its own words; a model that begins with its maker's name is not told twice. A maker alone is no camera. */
export function cameraOfTags({ make, model }: Tags): string | null {
  if (make === null || model === null) return model;
  return model.toLowerCase().startsWith(make.toLowerCase()) ? model : `${make} ${model}`;
}
