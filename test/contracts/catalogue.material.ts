import { NO_FACTS, NOTHING_KNOWN } from '../../src/core/intake/clip.ts';
import type { Clip, ClipFacts, FileRecord, FileStat } from '../../src/core/model.ts';
import type { CataloguePort, FilesPage } from '../../src/core/store-ports.ts';

/** A camera file of the invented concert, ready, on volume `stripe`. */
export function someFile(path: string, changes: Partial<FileRecord> = {}): FileRecord {
  return {
    volume: 'stripe',
    path,
    size: 1000,
    allocated: 4096,
    mtimeNs: 1_804_132_800_123_456_789n,
    ctimeNs: 1_804_132_801_123_456_789n,
    dev: 2049n,
    ino: inodeOf(path),
    nlink: 1,
    area: 'project',
    project: 'Tidewater Sessions',
    kind: 'original',
    unit: path,
    state: 'ready',
    ...changes,
  };
}

/** The note beside a file, in its unit. */
export function sidecarOf(file: FileRecord): FileRecord {
  return someFile(file.path.replace('.mov', '.xml'), { unit: file.unit, kind: 'sidecar', size: 10 });
}

export function statOf(file: FileRecord, changes: Partial<FileStat> = {}): FileStat {
  const { path, size, allocated, mtimeNs, ctimeNs, dev, ino, nlink } = file;
  return { path, size, allocated, mtimeNs, ctimeNs, dev, ino, nlink, ...changes };
}

export const PRORES_UHD25: Partial<ClipFacts> = {
  container: 'QuickTime',
  codec: 'ProRes 422 HQ',
  width: 3840,
  height: 2160,
  frameRate: { num: 25, den: 1 },
  durationSeconds: 10,
};

/** The clip of some files, which are its unit. */
export function clipOf(
  files: readonly FileRecord[],
  facts: Partial<ClipFacts> = {},
  changes: Partial<Clip> = {},
): Clip {
  const [first] = files;
  if (first === undefined) throw new Error('a clip has files');
  return {
    ...NOTHING_KNOWN,
    volume: first.volume,
    unit: first.unit,
    area: first.area,
    project: first.project,
    kind: first.kind,
    name: first.path.split('/').at(-1) ?? first.path,
    paths: files.map((file) => file.path),
    fileCount: files.length,
    bytes: files.reduce((sum, file) => sum + file.size, 0),
    essenceBytes: first.size,
    facts: { ...NO_FACTS, ...facts },
    state: 'ready',
    essenceCount: 1,
    parts: null,
    groupedBy: 'single-file',
    missingFrames: [],
    missingParts: [],
    missingNames: [],
    readyAt: Date.UTC(2027, 2, 4, 18),
    evidence: 'container-whole',
    ...changes,
  };
}

/** All parts of what is unfinished, by path. */
export async function unfinishedOf(
  catalogue: Pick<CataloguePort, 'unfinished'>,
  volume: string,
  only: 'broken' | null = null,
): Promise<FileRecord[]> {
  return (await allParts((after) => catalogue.unfinished(volume, only, after))).toSorted((a, b) =>
    Buffer.compare(Buffer.from(a.path), Buffer.from(b.path)),
  );
}

/** All parts of what is known below some paths, as they come. */
export function filesBelow(
  catalogue: Pick<CataloguePort, 'filesBelow'>,
  volume: string,
  paths: string[],
  only: 'unfinished' | null = null,
): Promise<FileRecord[]> {
  return allParts((after) => catalogue.filesBelow(volume, paths, only, after));
}

async function allParts(ask: (after: string | null) => Promise<FilesPage>): Promise<FileRecord[]> {
  const first = await ask(null);
  const files = [...first.files];
  for (let { next } = first; next !== null; ) {
    const part = await ask(next);
    files.push(...part.files);
    next = part.next;
  }
  return files;
}

/** Different files have different inodes. */
function inodeOf(path: string): bigint {
  let hash = 14_695_981_039_346_656_037n;
  for (const byte of Buffer.from(path)) hash = BigInt.asUintN(63, (hash ^ BigInt(byte)) * 1_099_511_628_211n);
  return hash;
}
