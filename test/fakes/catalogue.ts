import {
  addClip,
  addFile,
  emptyFootprint,
  exposedOf,
  FIRST_SIGHT_KEPT_MS,
  foldProjects,
  isEssence,
  isExposable,
} from '../../src/core/assess/footprint.ts';
import { compareSeen } from '../../src/core/intake/compare.ts';
import type { Clip, FileRecord, FileStat } from '../../src/core/model.ts';
import type { CataloguePort, LedgerPort } from '../../src/core/ports.ts';
import { fakeLedger } from './ledger.ts';

/**
 * A catalogue in memory, for tests of whatever works with the port. Holds no sums: it counts everything again each time,
 * so it is also what the running sums of the real one are compared with.
 */
export function fakeCatalogue(
  ledger: Pick<LedgerPort, 'condition'> = fakeLedger(),
  now: () => number = () => 0,
): CataloguePort {
  const files = new Map<string, FileRecord>();
  const clips = new Map<string, Clip>();
  /** The unit that each clip was taken with, by the clip's key. */
  const bases = new Map<string, string>();
  const kept = new Map<string, string>();
  /** When each file was first seen, by the file's key. */
  const firstSeen = new Map<string, number>();
  /** Footage that went. */
  const goneFootage: { file: FileRecord; firstSeenAt: number; goneAt: number }[] = [];
  /** Units that lost a file and were not finished again since. */
  const broken = new Set<string>();
  const key = (volume: string, name: string) => JSON.stringify([volume, name]);
  const filesWhere = (wanted: (file: FileRecord) => boolean) => [...files.values()].filter(wanted).sort(byPlace);
  const filesOf = (volume: string, unit: string) => filesWhere((file) => file.volume === volume && file.unit === unit);

  const dropClips = (volume: string, base: string) => {
    for (const [id, clip] of clips) if (clip.volume === volume && bases.get(id) === base) clips.delete(id);
  };

  /** Ends what left some units: names those that still have files, drops the clips of those without essence. */
  const settleLeft = (left: readonly { volume: string; unit: string }[]) =>
    left.filter(({ volume, unit }) => {
      const rest = filesOf(volume, unit);
      if (!rest.some((file) => isEssence(file.kind) && file.state !== 'refused')) dropClips(volume, unit);
      if (rest.length > 0) broken.add(key(volume, unit));
      else broken.delete(key(volume, unit));
      return rest.length > 0;
    });

  /** The earliest sighting of what a new path shows. */
  const firstSightOf = (file: FileRecord): number => {
    const same = (other: FileRecord) =>
      other.volume === file.volume &&
      other.ino === file.ino &&
      other.size === file.size &&
      other.mtimeNs === file.mtimeNs;
    const here = filesWhere(same).map((other) => firstSeen.get(key(other.volume, other.path)) ?? 0);
    const lately = goneFootage.filter((gone) => same(gone.file) && gone.goneAt >= now() - FIRST_SIGHT_KEPT_MS);
    return Math.min(now(), ...here, ...lately.map((gone) => gone.firstSeenAt));
  };

  /** Puts files, does what else the call does, and then looks at the units that were left. */
  const put = (records: readonly FileRecord[], rest: () => void) => {
    const left: FileRecord[] = [];
    for (const file of records) {
      const earlier = files.get(key(file.volume, file.path));
      if (earlier === undefined) firstSeen.set(key(file.volume, file.path), firstSightOf(file));
      else if (belies(earlier, file)) dropClips(earlier.volume, earlier.unit);
      if (earlier !== undefined && earlier.unit !== file.unit) left.push(earlier);
      files.set(key(file.volume, file.path), structuredClone(file));
    }
    rest();
    settleLeft(left);
  };
  const isFresh = (volume: string) => (seen: FileStat) => {
    const known = files.get(key(volume, seen.path));
    return known === undefined || known.state === 'arriving' || compareSeen(known, seen).verdict !== 'same';
  };
  const countedBytes = () =>
    filesWhere(() => true).reduce((sum, file) => sum + (counts(files, file) ? file.size : 0), 0);

  return {
    async compareListing(volume, dir, seen, dirs) {
      const seenPaths = new Set(seen.map((file) => file.path));
      const gone = filesWhere((file) => {
        const inside = file.volume === volume && (dir === '' || file.path.startsWith(`${dir}/`));
        if (!inside) return false;
        const rest = file.path.slice(dir === '' ? 0 : dir.length + 1);
        if (!rest.includes('/')) return !seenPaths.has(file.path);
        return !dirs.some((known) => file.path.startsWith(`${known}/`));
      });
      return { fresh: seen.filter(isFresh(volume)), gone: structuredClone(gone) };
    },
    compareFiles: async (volume, seen) => seen.filter(isFresh(volume)),
    async putFiles(records) {
      put(records, () => {});
    },
    async filesOfUnit(volume, unit) {
      return structuredClone(filesOf(volume, unit));
    },
    async unfinished(volume) {
      const wanted = (file: FileRecord) => file.state !== 'ready' || broken.has(key(volume, file.unit));
      return structuredClone(filesWhere((file) => file.volume === volume && wanted(file)));
    },
    async finishUnit(volume, unit, records, taken) {
      const settled = records.map((file) => (file.state === 'arriving' ? { ...file, state: 'ready' as const } : file));
      put(settled, () => {
        dropClips(volume, unit);
        broken.delete(key(volume, unit));
        for (const clip of taken) {
          clips.set(key(volume, clip.unit), structuredClone({ ...clip, volume }));
          bases.set(key(volume, clip.unit), unit);
        }
      });
    },
    async forget(volume, paths) {
      const bytesBefore = countedBytes();
      const gone = filesWhere(
        (file) =>
          file.volume === volume &&
          paths.some((path) => path === '' || file.path === path || file.path.startsWith(`${path}/`)),
      );
      for (const file of gone) {
        const firstSeenAt = firstSeen.get(key(volume, file.path)) ?? 0;
        if (isExposable(file) && file.size > 0) goneFootage.push({ file, firstSeenAt, goneAt: now() });
        if (isEssence(file.kind)) dropClips(volume, file.unit);
        files.delete(key(volume, file.path));
        firstSeen.delete(key(volume, file.path));
      }
      const left = [...new Set(gone.map((file) => file.unit))].sort();
      const units = settleLeft(left.map((unit) => ({ volume, unit }))).map(({ unit }) => unit);
      return { units, files: gone.length, bytes: bytesBefore - countedBytes() };
    },
    async projects(wantedCopies) {
      const lost = (await ledger.condition()) === 'lost';
      const footprint = emptyFootprint();
      for (const file of files.values()) addFile(footprint, file, counts(files, file), 1);
      for (const clip of clips.values()) addClip(footprint, clip, 1);
      return foldProjects(footprint.files.values(), footprint.clips.values()).map(({ exposable, ...entry }) => {
        const covered = wantedCopies < 1 ? exposable : { clips: 0, bytes: 0, durationMicros: 0 };
        const times = filesWhere(
          (file) =>
            file.volume === entry.volume &&
            file.area === entry.area &&
            file.project === entry.project &&
            isExposable(file) &&
            file.size > 0,
        ).map((file) => firstSeen.get(key(file.volume, file.path)) ?? 0);
        const since = times.length === 0 ? null : Math.min(...times);
        return { ...entry, exposed: lost ? null : exposedOf(exposable, covered, since) };
      });
    },
    async clips({ volume, project, newest }) {
      const found = [...clips.values()]
        .filter((clip) => volume === undefined || clip.volume === volume)
        .filter((clip) => project === undefined || clip.project === project)
        .sort((a, b) => b.readyAt - a.readyAt || byText(a.volume, b.volume) || byText(a.unit, b.unit));
      return structuredClone(found.slice(0, newest ?? found.length));
    },
    counts: async (volume) => ({
      files: [...files.values()].filter((file) => volume === undefined || file.volume === volume).length,
      clips: [...clips.values()].filter((clip) => volume === undefined || clip.volume === volume).length,
    }),
    recall: async (name) => kept.get(name) ?? null,
    async remember(name, value) {
      kept.set(name, value);
    },
  };
}

/** Whether what a clip tells of a file is no longer true. */
function belies(before: FileRecord, file: FileRecord): boolean {
  if (!isEssence(before.kind) && !isEssence(file.kind)) return false;
  if (before.state !== 'ready') return false;
  return file.state !== 'ready' || before.unit !== file.unit || compareSeen(before, file).verdict === 'changed';
}

/** Of several names of one content the first in order of folder and name; footage outside the trash before all others. */
function counts(files: Map<string, FileRecord>, file: FileRecord): boolean {
  if (file.nlink <= 1) return true;
  return ![...files.values()].some(
    (other) =>
      other.nlink > 1 &&
      other.volume === file.volume &&
      other.ino === file.ino &&
      other.dev === file.dev &&
      (Number(isExposable(file)) - Number(isExposable(other)) || byPlace(other, file)) < 0,
  );
}

function byPlace(a: FileRecord, b: FileRecord): number {
  const [folderA, folderB] = [a, b].map(({ path }) => path.slice(0, Math.max(path.lastIndexOf('/'), 0)));
  return byText(folderA ?? '', folderB ?? '') || byText(a.path, b.path);
}

/** By bytes of UTF-8, as a database does. */
function byText(a: string, b: string): number {
  return Buffer.compare(Buffer.from(a), Buffer.from(b));
}
