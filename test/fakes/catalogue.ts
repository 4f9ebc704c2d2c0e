import { addClip, addFile, emptyFootprint, exposedOf, foldProjects } from '../../src/core/assess/footprint.ts';
import { compareSeen } from '../../src/core/intake/compare.ts';
import { type Clip, type FileRecord, type FileStat, FOOTAGE_KINDS } from '../../src/core/model.ts';
import type { CataloguePort, LedgerPort } from '../../src/core/ports.ts';
import { fakeLedger } from './ledger.ts';

/**
 * A catalogue in memory, for tests of whatever works with the port. Holds no sums: it counts everything again each time,
 * so it is also what the running sums of the real one are compared with.
 */
export function fakeCatalogue(ledger: Pick<LedgerPort, 'condition'> = fakeLedger()): CataloguePort {
  const files = new Map<string, FileRecord>();
  const clips = new Map<string, Clip>();
  /** The unit that each clip was taken with, by the clip's key. */
  const bases = new Map<string, string>();
  const kept = new Map<string, string>();
  const key = (volume: string, name: string) => JSON.stringify([volume, name]);
  const filesWhere = (wanted: (file: FileRecord) => boolean) => [...files.values()].filter(wanted).sort(byPlace);
  const hasFiles = (volume: string, unit: string) =>
    filesWhere((file) => file.volume === volume && file.unit === unit).length > 0;

  const dropClips = (volume: string, base: string) => {
    for (const [id, clip] of clips) if (clip.volume === volume && bases.get(id) === base) clips.delete(id);
  };

  /** Puts files, does what else the call does, and then drops the clips of units that were left by their last file. */
  const put = (records: readonly FileRecord[], rest: () => void) => {
    const left: FileRecord[] = [];
    for (const file of records) {
      const earlier = files.get(key(file.volume, file.path));
      if (earlier !== undefined && earlier.unit !== file.unit) left.push(earlier);
      files.set(key(file.volume, file.path), structuredClone(file));
    }
    rest();
    for (const { volume, unit } of left) if (!hasFiles(volume, unit)) dropClips(volume, unit);
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
      return structuredClone(filesWhere((file) => file.volume === volume && file.unit === unit));
    },
    async unfinished(volume) {
      return structuredClone(filesWhere((file) => file.volume === volume && file.state !== 'ready'));
    },
    async finishUnit(volume, unit, records, taken) {
      const settled = records.map((file) => (file.state === 'arriving' ? { ...file, state: 'ready' as const } : file));
      put(settled, () => {
        dropClips(volume, unit);
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
      for (const file of gone) files.delete(key(volume, file.path));
      const left = [...new Set(gone.map((file) => file.unit))].sort();
      const units = left.filter((unit) => hasFiles(volume, unit));
      for (const unit of left) if (!units.includes(unit)) dropClips(volume, unit);
      return { units, files: gone.length, bytes: bytesBefore - countedBytes() };
    },
    async projects(wantedCopies) {
      const lost = (await ledger.condition()) === 'lost';
      const footprint = emptyFootprint();
      for (const file of files.values()) addFile(footprint, file, counts(files, file), 1);
      for (const clip of clips.values()) addClip(footprint, clip, 1);
      return foldProjects(footprint.files.values(), footprint.clips.values()).map(({ footageClips, ...entry }) => {
        const footage = [...clips.values()].filter(
          (clip) =>
            clip.volume === entry.volume &&
            clip.area === entry.area &&
            clip.project === entry.project &&
            FOOTAGE_KINDS.includes(clip.kind),
        );
        const covered = wantedCopies < 1 ? footageClips : { clips: 0, bytes: 0, durationMicros: 0 };
        const since = footage.length === 0 ? null : Math.min(...footage.map((clip) => clip.readyAt));
        return { ...entry, exposed: lost ? null : exposedOf(footageClips, covered, since) };
      });
    },
    async clips({ volume, project, newest }) {
      const found = [...clips.values()]
        .filter((clip) => volume === undefined || clip.volume === volume)
        .filter((clip) => project === undefined || clip.project === project)
        .sort((a, b) => b.readyAt - a.readyAt || byText(a.volume, b.volume) || byText(a.unit, b.unit));
      return structuredClone(found.slice(0, newest ?? found.length));
    },
    counts: async () => ({ files: files.size, clips: clips.size }),
    recall: async (name) => kept.get(name) ?? null,
    async remember(name, value) {
      kept.set(name, value);
    },
  };
}

/** Of several names of one content the first in order of folder and name. */
function counts(files: Map<string, FileRecord>, file: FileRecord): boolean {
  if (file.nlink <= 1) return true;
  return ![...files.values()].some(
    (other) =>
      other.nlink > 1 &&
      other.volume === file.volume &&
      other.ino === file.ino &&
      other.dev === file.dev &&
      byPlace(other, file) < 0,
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
