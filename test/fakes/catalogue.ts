import {
  addClip,
  addFile,
  emptyFootprint,
  exposedOf,
  FIRST_SIGHT_KEPT_MS,
  foldProjects,
  isEssence,
  isExposable,
  isFootage,
} from '../../src/core/assess/footprint.ts';
import type { FormatHour } from '../../src/core/assess/format-days.ts';
import type { CardStorePort } from '../../src/core/card-ports.ts';
import { compareSeen } from '../../src/core/intake/compare.ts';
import { isLacking, isUndecoded } from '../../src/core/intake/lacking.ts';
import { isMoved, isRenamed, isReplaced } from '../../src/core/intake/moved.ts';
import { clipsByLead, regroup } from '../../src/core/intake/regroup.ts';
import type { Clip, FileRecord, FileStat } from '../../src/core/model.ts';
import { FOOTAGE_KINDS } from '../../src/core/model.ts';
import type { CataloguePort, FilesDiff, FilesPage, Removal } from '../../src/core/store-ports.ts';
import { candidatesAmong, filesAtPlaces } from './candidates.ts';
import { type FakeLedger, fakeLedger } from './ledger.ts';

/**
 * A catalogue in memory, for tests of whatever works with the port. Holds no sums: it counts everything again each time,
 * so it is also what the running sums of the real one are compared with.
 */
export function fakeCatalogue(
  ledger: Pick<FakeLedger, 'condition' | 'book'> = fakeLedger(),
  now: () => number = () => 0,
): CataloguePort & Pick<CardStorePort, 'filesAt'> {
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

  /** The other names of a content that has several now. */
  const linkOthers = (earlier: FileRecord | undefined, file: FileRecord) => {
    const isOther = (other: FileRecord) =>
      other.volume === file.volume && other.ino === file.ino && other.dev === file.dev;
    if (file.nlink <= 1 || file.ino === 0n) return;
    if (earlier !== undefined && earlier.nlink > 1 && isOther(earlier)) return;
    for (const [id, other] of files) {
      if (isOther(other) && other.nlink <= 1) files.set(id, { ...other, nlink: file.nlink });
    }
  };

  /** Puts files, does what else the call does, and then looks at the units that were left. */
  const put = (records: readonly FileRecord[], rest: () => void) => {
    const left: FileRecord[] = [];
    for (const file of records) {
      const earlier = files.get(key(file.volume, file.path));
      if (earlier === undefined) firstSeen.set(key(file.volume, file.path), firstSightOf(file));
      else if (belies(earlier, file)) dropClips(earlier.volume, earlier.unit);
      if (earlier !== undefined && earlier.unit !== file.unit) left.push(earlier);
      linkOthers(earlier, file);
      files.set(key(file.volume, file.path), structuredClone(file));
    }
    rest();
    settleLeft(left);
  };
  const compare = (volume: string, seen: readonly FileStat[]): FilesDiff => {
    const diff: FilesDiff = { fresh: [], moved: [], replacing: [] };
    for (const file of seen) {
      const known = files.get(key(volume, file.path));
      if (known?.state === 'ready' || known?.state === 'refused') {
        if (compareSeen(known, file).verdict === 'same') continue;
      }
      const elsewhere = filesWhere((other) => other.volume === volume && isMoved(other, file))[0];
      if (elsewhere !== undefined && known?.state !== 'arriving') diff.moved.push({ file, from: elsewhere.path });
      else if (known !== undefined && isReplaced(known, file)) diff.replacing.push(file);
      else diff.fresh.push(file);
    }
    return diff;
  };
  const isUnfinished = (file: FileRecord, only: 'broken' | null) =>
    (only !== 'broken' && file.state !== 'ready') || broken.has(key(file.volume, file.unit));
  /** A third at a time, so that whoever reads only the first is found out. */
  const pageOf = (lists: readonly (readonly FileRecord[])[], after: string | null): FilesPage => {
    const from: { place: number; path: string } | null = after === null ? null : JSON.parse(after);
    const left = lists.flatMap((list, place) =>
      list
        .filter((file) => from === null || place > from.place || (place === from.place && byPlace(file, from) > 0))
        .map((file) => ({ place, file })),
    );
    const part = left.slice(0, Math.max(3, Math.ceil(left.length / 3)));
    const last = part.at(-1);
    const isLast = last === undefined || left.length === part.length;
    return {
      files: structuredClone(part.map(({ file }) => file)),
      next: isLast ? null : JSON.stringify({ place: last.place, path: last.file.path }),
    };
  };
  const take = (volume: string, path: string): FileRecord | undefined => {
    const file = files.get(key(volume, path));
    files.delete(key(volume, path));
    return file;
  };
  const takeClips = (volume: string, base: string): Clip[] => {
    const taken = [...clips].filter(([id, clip]) => clip.volume === volume && bases.get(id) === base);
    for (const [id] of taken) clips.delete(id);
    return taken.map(([, clip]) => clip);
  };
  const putClips = (volume: string, base: string, made: readonly Clip[]) => {
    for (const clip of made) {
      clips.set(key(volume, clip.unit), structuredClone({ ...clip, volume }));
      bases.set(key(volume, clip.unit), base);
    }
  };

  /** A unit that lost or got files: grouped again from the ready ones. False: it must settle once more. */
  const regroupUnit = (volume: string, unit: string, known: ReadonlyMap<string, Clip>): boolean => {
    const there = filesOf(volume, unit);
    const ready = there.filter(({ state }) => state === 'ready');
    const grouped = regroup(ready, known);
    for (const file of grouped.files) files.set(key(volume, file.path), structuredClone(file));
    putClips(volume, unit, grouped.clips);
    if (grouped.complete) broken.delete(key(volume, unit));
    else broken.add(key(volume, unit));
    return ready.length === 0 || (grouped.complete && there.every(({ state }) => state !== 'arriving'));
  };
  const countedFiles = (): FileRecord[] =>
    filesWhere(() => true).map((file) => (counts(files, file) ? file : { ...file, size: 0 }));
  /** What of the earlier files, each with the bytes that it counted with, is not there any more nor was renamed. */
  const removals = (before: readonly FileRecord[], renamed: readonly FileRecord[]) => {
    const sums = new Map<string, Omit<Removal, 'hour'>>();
    const add = (some: readonly FileRecord[], times: 1 | -1) => {
      for (const { area, project, kind, size } of some) {
        const place = JSON.stringify([area, project ?? '']);
        const sum = sums.get(place) ?? { area, project, files: 0, bytes: 0, footageBytes: 0 };
        const footageBytes = sum.footageBytes + (isFootage(kind) ? times * size : 0);
        sums.set(place, { ...sum, files: sum.files + times, bytes: sum.bytes + times * size, footageBytes });
      }
    };
    add(before, 1);
    add(countedFiles(), -1);
    add(renamed, -1);
    return [...sums.values()].filter((sum) => sum.files !== 0 || sum.bytes !== 0);
  };

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
      // By the topmost folder, unless a file has its name now.
      const named = gone.map(({ path }) => {
        const end = path.indexOf('/', dir === '' ? 0 : dir.length + 1);
        const top = end === -1 ? path : path.slice(0, end);
        return seenPaths.has(top) ? path : top;
      });
      return { ...compare(volume, seen), gone: [...new Set(named)] };
    },
    compareFiles: async (volume, seen) => compare(volume, seen),
    async putFiles(records) {
      const isFinished = (file: FileRecord) => {
        const known = files.get(key(file.volume, file.path));
        const same = known?.unit === file.unit && compareSeen(known, file).verdict === 'same';
        return file.state === 'arriving' && known?.state === 'ready' && same;
      };
      const finished = records.filter(isFinished);
      put(
        records.filter((file) => !finished.includes(file)),
        () => {},
      );
      return finished.map(({ path }) => path);
    },
    async filesOfUnits(volume, units) {
      return structuredClone(units.flatMap((unit) => filesOf(volume, unit)));
    },
    async unfinished(volume, only = null, after = null) {
      return pageOf([filesWhere((file) => file.volume === volume && isUnfinished(file, only))], after);
    },
    async filesBelow(volume, paths, only = null, after = null) {
      const at = (path: string) => (file: FileRecord) =>
        file.volume === volume &&
        (path === '' || file.path === path || file.path.startsWith(`${path}/`)) &&
        (only === null || isUnfinished(file, null));
      return pageOf(
        paths.map((path) => filesWhere(at(path))),
        after,
      );
    },
    async finishUnit(volume, unit, records, taken, beside = []) {
      const still = beside.filter(({ path }) => files.has(key(volume, path)));
      const settled = [...records, ...still].map((file) =>
        file.state === 'arriving' ? { ...file, state: 'ready' as const } : file,
      );
      put(settled, () => {
        if (still.length < beside.length) {
          broken.add(key(volume, unit));
          return;
        }
        dropClips(volume, unit);
        broken.delete(key(volume, unit));
        putClips(volume, unit, taken);
      });
    },
    async moveFiles(volume, moves) {
      const left: string[] = [];
      const units = new Set<string>();
      const accepted = new Map<string, FileRecord>();
      const sightings = new Map<string, number>();
      for (const { from, file } of moves) {
        const known = files.get(key(volume, from));
        const places = [...accepted.values()].map(({ path }) => path);
        if (known === undefined || !isMoved(known, file) || places.includes(file.path)) {
          left.push(file.path);
          continue;
        }
        take(volume, from);
        units.add(known.unit);
        accepted.set(from, { ...file, volume });
        sightings.set(file.path, firstSeen.get(key(volume, from)) ?? 0);
      }
      for (const file of accepted.values()) {
        const displaced = take(volume, file.path);
        if (displaced !== undefined) units.add(displaced.unit);
      }
      for (const file of accepted.values()) {
        if (file.state === 'ready') units.add(file.unit);
        files.set(key(volume, file.path), structuredClone(file));
        firstSeen.set(key(volume, file.path), sightings.get(file.path) ?? 0);
      }
      const known = clipsByLead(
        [...units].flatMap((unit) => takeClips(volume, unit)),
        new Map([...accepted].map(([from, { path }]) => [from, path])),
      );
      const again = [...units].filter((unit) => !regroupUnit(volume, unit, known));
      return { left, again: again.sort() };
    },
    async forget(volume, paths, only) {
      const before = countedFiles();
      const named = filesWhere(
        (file) =>
          file.volume === volume &&
          paths.some(
            (path) => file.path === path || (only !== 'files' && (path === '' || file.path.startsWith(`${path}/`))),
          ),
      );
      const away = new Set(named);
      const renamed = named.filter((file) =>
        [...files.values()].some((other) => other.volume === volume && !away.has(other) && isRenamed(file, other)),
      );
      const gone = only === 'renamed' ? renamed : named;
      for (const file of gone) {
        const firstSeenAt = firstSeen.get(key(volume, file.path)) ?? 0;
        if (isExposable(file) && file.size > 0) goneFootage.push({ file, firstSeenAt, goneAt: now() });
        if (isEssence(file.kind)) dropClips(volume, file.unit);
        files.delete(key(volume, file.path));
        firstSeen.delete(key(volume, file.path));
      }
      const left = [...new Set(gone.map((file) => file.unit))].sort();
      const units = settleLeft(left.map((unit) => ({ volume, unit }))).map(({ unit }) => unit);
      const removed = removals(before, renamed);
      if (only !== 'left-out') for (const each of removed) ledger.book(volume, { ...each, hour: hourOf(now()) });
      return {
        units,
        files: gone.length - renamed.length,
        bytes: removed.reduce((sum, { bytes }) => sum + bytes, 0),
        first: gone.find((file) => !renamed.includes(file))?.path ?? null,
      };
    },
    // What clips carry is looked into by the real one alone (test/rim/store/joins.test.ts).
    putCardLists: async () => {},
    joinTakes: async () => ({ more: false, changed: [] }),
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
    async footageHours(volume, wanted) {
      const hours = new Map<number, number>();
      const isWanted = ({ volume: on, area, project }: FileRecord) =>
        on === volume && (wanted === undefined || (area === 'project' && project === wanted));
      for (const { kind, size, ctimeNs } of filesWhere(isWanted)) {
        const hour = Number(ctimeNs / 3_600_000_000_000n);
        if (FOOTAGE_KINDS.includes(kind)) hours.set(hour, (hours.get(hour) ?? 0) + size);
      }
      return [...hours].map(([hour, bytes]) => ({ hour, bytes })).sort((one, other) => one.hour - other.hour);
    },
    async formatHours(volume, project) {
      const sums = new Map<string, FormatHour>();
      for (const { facts, readyAt, bytes, ...clip } of clips.values()) {
        if (clip.volume !== volume || clip.project !== project || !isExposable(clip)) continue;
        const { codec, width, height, frameRate } = facts;
        const day = /^\d{4}-\d\d-\d\d/.exec(facts.recordedAt ?? '')?.[0] ?? null;
        const sum = {
          day,
          hour: day === null ? Math.floor(readyAt / 3_600_000) : 0,
          codec,
          width,
          height,
          frameRate,
          bytes,
        };
        const key = JSON.stringify({ ...sum, bytes: null });
        sums.set(key, { ...sum, bytes: bytes + (sums.get(key)?.bytes ?? 0) });
      }
      return [...sums.values()].sort(
        (a, b) => byText(a.day ?? '', b.day ?? '') || a.hour - b.hour || byText(a.codec ?? '', b.codec ?? ''),
      );
    },
    lacking: async (volume, newest) =>
      structuredClone(
        [...clips.values()]
          .filter((clip) => clip.volume === volume && isExposable(clip) && isLacking(clip))
          .sort((a, b) => b.readyAt - a.readyAt || byText(a.unit, b.unit))
          .slice(0, newest),
      ),
    undecoded: async (volume, newest) =>
      structuredClone(
        [...clips.values()]
          .filter((clip) => clip.volume === volume && isExposable(clip) && isUndecoded(clip))
          .sort((a, b) => b.readyAt - a.readyAt || byText(a.unit, b.unit))
          .slice(0, newest),
      ),
    counts: async (volume) => ({
      files: [...files.values()].filter((file) => volume === undefined || file.volume === volume).length,
      clips: [...clips.values()].filter((clip) => volume === undefined || clip.volume === volume).length,
    }),
    candidates: async (wanted) =>
      candidatesAmong(
        filesWhere(() => true),
        wanted,
      ),
    filesAt: async (places) =>
      filesAtPlaces(
        filesWhere(() => true),
        places,
      ),
    recall: async (name) => kept.get(name) ?? null,
    async remember(name, value) {
      kept.set(name, value);
    },
  };
}

const hourOf = (at: number) => Math.floor(at / 3_600_000) * 3_600_000;

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

function byPlace(a: Pick<FileRecord, 'path'>, b: Pick<FileRecord, 'path'>): number {
  const [folderA, folderB] = [a, b].map(({ path }) => path.slice(0, Math.max(path.lastIndexOf('/'), 0)));
  return byText(folderA ?? '', folderB ?? '') || byText(a.path, b.path);
}

/** By bytes of UTF-8, as a database does. */
function byText(a: string, b: string): number {
  return Buffer.compare(Buffer.from(a), Buffer.from(b));
}
