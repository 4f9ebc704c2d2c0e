/**
 * Names that operating systems, file servers and copying programs leave on a volume. All compared without case, because
 * the file systems they come from do not tell case apart. A name counts at any depth, so that a folder holding several
 * mounts is read rightly, unless it is also a word a person might use: those count directly below the root only.
 */
const SYSTEM = new Set([
  'lost+found',
  'system volume information',
  '$extend',
  'found.000',
  'pagefile.sys',
  'hiberfil.sys',
  'swapfile.sys',
  'thumbs.db',
  'ehthumbs.db',
  'desktop.ini',
  '.directory',
  '.spotlight-v100',
  '.fseventsd',
  '.documentrevisions-v100',
  '.temporaryitems',
  '.mobilebackups',
  '.ds_store',
  '.localized',
  '.volumeicon.icns',
  '.apdisk',
  '.vol',
  '.hotfiles.btree',
  '.journal',
  '.journal_info_block',
  '.hfs+ private directory data\r',
  'icon\r',
  '.appledouble',
  '.appledb',
  '.appledesktop',
  '.snapshot',
  '.snapshots',
  '.zfs',
  '#snapshot',
  '~snapshot',
  '@snapshots',
  '@eadir',
  '@tmp',
  '@recently-snapshot',
  '.@__thumb',
]);

const SYSTEM_AT_ROOT = new Set(['temporary items', 'snapshots']);

/** Prefix shapes: metadata companions, files deleted while open on network and FUSE mounts, backup markers of a volume, and what we measure with. */
const SYSTEM_SHAPES = [
  /^\._/,
  /^\.nfs[0-9a-f]{8,}$/,
  /^\.fuse_hidden[0-9a-f]+$/,
  /^\.com\.apple\.timemachine\./,
  /^\.headroomd-measuring-[0-9a-f]{32}$/,
];

const TRASH = new Set([
  '.trash',
  '.trashes',
  '$recycle.bin',
  '#recycle',
  '@recycle',
  '.recycle',
  '.recycler',
  'network trash folder',
]);

const TRASH_AT_ROOT = new Set(['recycler', 'recycled']);

/** One trash folder per user id, as the freedesktop.org trash specification 1.0 lays down for the top of a volume. */
const TRASH_SHAPE = /^\.trash-\d+$/;

/**
 * Whether a name belongs to the system (`system`: neither counted nor watched), is a trash folder (`trash`: its bytes
 * are counted as trash) or is anything else (`null`). `depth` 0 is directly below the root.
 */
export function systemName(name: string, depth: number): 'system' | 'trash' | null {
  const folded = name.toLowerCase();
  if (SYSTEM.has(folded) || SYSTEM_SHAPES.some((shape) => shape.test(folded))) return 'system';
  if (TRASH.has(folded) || TRASH_SHAPE.test(folded)) return 'trash';
  if (depth > 0) return null;
  if (SYSTEM_AT_ROOT.has(folded)) return 'system';
  return TRASH_AT_ROOT.has(folded) ? 'trash' : null;
}

/** `name~`, and every extension that says "part", "partial", "tmp", "temp" or ends in "download". */
const TEMPORARY_SUFFIX = /(?:~|\.(?:[a-z]*part|partial|tmp|temp|[a-z]*download))$/i;

/** `.name.XXXXXX`: a dot in front and six random characters behind, as mkstemp(3) makes them. */
const RANDOM_SUFFIX = /^\.(.+)\.([A-Za-z0-9]{6})$/s;

/** Six characters that a person would write: a word in one case, with or without a number behind it. */
const WORD = /^(?:[a-z]+|[A-Z]+)\d*$/;

/**
 * The name a file will have when its copying program is through, or `null` when this is no temporary name. Only the
 * shape is judged: `A001.mov.part`, `A001.mov~`, `.A001.mov.x7Qp2a`. A random suffix that happens to look like a word
 * (about one in fifty) is not recognised; such a file is taken as an ordinary unknown file until it is renamed.
 */
export function nameBehindTemporary(name: string): string | null {
  const random = RANDOM_SUFFIX.exec(name);
  if (random?.[1] !== undefined && !WORD.test(random[2] ?? '')) return random[1];
  const plain = name.replace(TEMPORARY_SUFFIX, '');
  if (plain === name || plain === '' || plain === '.') return null;
  return plain.startsWith('.') ? plain.slice(1) : plain;
}

/** Whether a copying program is still expected to rename this file. */
export function isTemporaryName(name: string): boolean {
  return nameBehindTemporary(name) !== null;
}
