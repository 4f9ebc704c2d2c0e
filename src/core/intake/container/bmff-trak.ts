import {
  characters,
  entriesOf,
  find,
  i32,
  inside,
  type Part,
  partsOf,
  type Tell,
  u8,
  u32,
  u64,
  version,
} from './bmff-parts.ts';

/** One track of the index (`trak`), as far as every kind of track has it. */
export interface Trak {
  id: number;
  /** `vide`, `soun`, `tmcd`, ...; empty when unknown. */
  handler: string;
  /** Clock ticks a second of the media; 0: not known. */
  timescale: number;
  /** Length of the media in ticks as the media header states it; `null`: not told. */
  ticks: number | null;
  /** Track header, `tkhd`. */
  header: Part | null;
  /** The first sample description, a box named by its codec. */
  entry: Part | null;
  /** Version of the table of sample descriptions: 1 gives ISO sound descriptions another layout. */
  entryVersion: number;
  /** The sample tables: the boxes in `stbl`. */
  tables: Part[];
  /** What comes before the media on the presentation's time line, and where in the media it begins. */
  edit: Edit;
  /** Ids of the timecode tracks it names (`tref` of kind `tmcd`). */
  timecodes: number[];
  /** The media data lie in another file. */
  outside: boolean;
}

export interface Edit {
  /** Ticks of the movie clock before the media begin: empty edits. */
  empty: number;
  /** Ticks of the media clock that are left out at the start. */
  skipped: number;
}

/** Reads one `trak`. What is missing is empty; what does not fit its box is told. */
export function readTrak(trak: Part, tell: Tell): Trak {
  const parts = partsOf(trak, tell);
  const media = inside(parts, 'mdia', tell);
  const information = inside(media, 'minf', tell);
  const tables = inside(information, 'stbl', tell);
  const header = find(parts, 'tkhd');
  const handler = find(media, 'hdlr');
  const descriptions = find(tables, 'stsd');
  return {
    id: header === null ? 0 : u32(header, version(header) === 1 ? 20 : 12),
    handler: handler === null ? '' : characters(handler, 8),
    ...mediaHeader(find(media, 'mdhd')),
    header,
    entry: descriptions === null ? null : firstEntry(descriptions, tell),
    entryVersion: descriptions === null ? 0 : version(descriptions),
    tables,
    edit: readEdit(find(inside(parts, 'edts', tell), 'elst'), tell),
    timecodes: references(find(inside(parts, 'tref', tell), 'tmcd')),
    outside: !isSelfContained(find(inside(information, 'dinf', tell), 'dref')),
  };
}

/** Clause 8.4.2: a length of all ones is unknown. */
function mediaHeader(mdhd: Part | null): Pick<Trak, 'timescale' | 'ticks'> {
  if (mdhd === null) return { timescale: 0, ticks: null };
  const large = version(mdhd) === 1;
  const ticks = large ? u64(mdhd, 24) : u32(mdhd, 16);
  const unknown = ticks === 0 || ticks >= (large ? Number.MAX_SAFE_INTEGER : 0xffff_ffff);
  return { timescale: u32(mdhd, large ? 20 : 12), ticks: unknown ? null : ticks };
}

function firstEntry(descriptions: Part, tell: Tell): Part | null {
  const entries = partsOf(descriptions, tell, 8);
  const [first] = entries;
  if (first === undefined) return null;
  if (entries.some((entry) => entry.type !== first.type)) tell('a track changes its codec: the first one is told');
  return first;
}

/** Clause 8.6.6: a media time of -1 is an empty edit; the first one that is not tells where in the media it begins. */
function readEdit(list: Part | null, tell: Tell): Edit {
  const edit = { empty: 0, skipped: 0 };
  if (list === null) return edit;
  const large = version(list) === 1;
  const width = large ? 20 : 12;
  const entries = entriesOf(list, 8, u32(list, 4), width, tell);
  for (let index = 0; index < entries; index += 1) {
    const at = 8 + index * width;
    const time = large ? i32(list, at + 8) * 0x1_0000_0000 + u32(list, at + 12) : i32(list, at + 4);
    if (time >= 0) return { ...edit, skipped: time };
    edit.empty += large ? u64(list, at) : u32(list, at);
  }
  return edit;
}

function references(kind: Part | null): number[] {
  if (kind === null) return [];
  const count = Math.min(64, Math.floor((kind.end - kind.from) / 4));
  return Array.from({ length: count }, (_, index) => u32(kind, index * 4));
}

/** Clause 8.7.2: flag 1 of the first entry says that the media data are in this very file. Without entries they are. */
function isSelfContained(dref: Part | null): boolean {
  if (dref === null || dref.end - dref.from < 20) return true;
  return (u8(dref, 8 + 11) & 1) === 1;
}

/** Boxes behind the fixed fields of a sample description, which take `fixed` bytes of its content. */
export function entryParts(entry: Part, fixed: number): Part[] {
  // They are optional, and some writers pad: damage there is not worth a word.
  return partsOf(entry, () => {}, fixed);
}

/** The codec: of encrypted tracks (`encv`, `enca`; clause 8.12) the original format. `parts` are those behind the entry. */
export function codecOf(entry: Part | null, parts: readonly Part[]): string | null {
  if (entry === null) return null;
  const encrypted = entry.type === 'encv' || entry.type === 'enca';
  const original = encrypted
    ? find(
        inside(parts, 'sinf', () => {}),
        'frma',
      )
    : null;
  const codec = original === null ? entry.type : characters(original, 0);
  return /^[\x20-\x7e\xa9]{4}$/.test(codec) ? codec : null;
}
