import type { DatabaseSync, StatementSync } from 'node:sqlite';
import type { FootageTotal, ProjectFootprint } from '../../core/assess/footprint.ts';
import {
  type Copied,
  type MadeSum,
  NONE_MADE,
  NOTHING_COPIED,
  type ProjectCopies,
} from '../../core/backup/project-copies.ts';
import type { ShelfKeys } from './shelf-keys.ts';

/** A project, or an area outside projects, of one volume. */
export type Place = Pick<ProjectFootprint, 'volume' | 'area' | 'project'>;

/** What is covered in one place. */
export interface PlaceCover extends Pick<ProjectCopies, PartName | 'unsourcedBytes'> {
  footageTotal: FootageTotal;
  /** Proxies and renders. */
  madeCovered: MadeSum;
  /** Of those whose source is not known, the ones without all their copies. */
  unsourcedLacking: MadeSum;
  /** Of footage that has a verified copy at all: bytes, and the smallest number on different drives. */
  anyBytes: number;
  fewest: number | null;
}

const PARTS = ['footage', 'made', 'other'] as const;
type PartName = (typeof PARTS)[number];

/** What is covered, by place. */
export interface CoverageSums {
  /** Adds up what was counted now, and on which shelves it lies. */
  readAll(): void;
  /** Takes off what was taken out since. The oldest reading and the fewest copies stay as they were: they err to the careful side. */
  readLess(): void;
  of(place: Place): PlaceCover;
}

export function openCoverageSums(database: DatabaseSync, keys: ShelfKeys): CoverageSums {
  const part = (name: PartName) =>
    `coalesce(sum(size) FILTER (WHERE fresh AND part = '${name}'), 0) AS ${name}Bytes, min(oldest) FILTER (WHERE fresh AND part = '${name}') AS ${name}Oldest`;
  const filesOf = (table: string) =>
    database.prepare(`
    SELECT volume, area, project, coalesce(sum(bytes) FILTER (WHERE enough), 0) AS bytes, sum(bytes) AS anyBytes,
      min(copies) FILTER (WHERE bytes > 0) AS fewest, ${PARTS.map(part).join(', ')}
    FROM ${table} GROUP BY volume, area, project`);
  const unitsOf = (table: string) =>
    database.prepare(`
    SELECT volume, area, project, sum(clips) AS clips, sum(duration_us) AS micros, sum(made_clips) AS madeClips, sum(made_bytes) AS madeBytes,
      sum(made_us) AS madeMicros FROM ${table} GROUP BY volume, area, project`);
  const counted = { files: filesOf('covered_file'), units: unitsOf('covered_unit') };
  const less = { files: filesOf('covered_file_less'), units: unitsOf('covered_unit_less') };
  const isCovered = (unit: string) =>
    `EXISTS (SELECT 1 FROM covered_unit AS whole WHERE whole.volume = clip.volume AND whole.unit = ${unit}`;
  const unsourced = database.prepare(`
    SELECT volume, area, project, count(*) FILTER (WHERE NOT enough) AS clips, coalesce(sum(bytes) FILTER (WHERE NOT enough), 0) AS bytes,
      coalesce(sum(duration_us) FILTER (WHERE NOT enough), 0) AS micros, coalesce(sum(bytes) FILTER (WHERE enough AND fresh), 0) AS freshBytes
    FROM (SELECT clip.volume, clip.area, clip.project, clip.bytes, clip.duration_us, ${isCovered('clip.base AND whole.fresh')}) AS fresh,
        ${isCovered('clip.base')}) AND NOT EXISTS (SELECT 1 FROM part
          WHERE part.volume = clip.volume AND part.take = clip.unit AND NOT ${isCovered('part.base')})) AS enough
      FROM unsourced_clip AS mine CROSS JOIN clip ON clip.volume = mine.volume AND clip.unit = mine.unit AND clip.project = mine.project)
    GROUP BY volume, area, project`);
  const shelves = database.prepare(
    'SELECT DISTINCT volume, area, project, part, shelves FROM covered_file WHERE fresh AND size > 0',
  );
  let all = new Map<string, PlaceCover>();
  let covers = new Map<string, PlaceCover>();
  let sets = new Map<string, number>();

  function readUnsourced(to: Map<string, PlaceCover>): void {
    for (const row of unsourced.all()) {
      const cover = coverOf(to, row);
      cover.unsourcedLacking = madeOf(row['clips'], row['bytes'], row['micros']);
      cover.unsourcedBytes = Number(row['freshBytes']);
    }
  }

  function readShelves(): void {
    sets = new Map();
    for (const row of shelves.all()) {
      const key = partKey(placeKey(row as unknown as Place), String(row['part']));
      sets.set(key, Number(BigInt(sets.get(key) ?? 0) | BigInt(Number(row['shelves']))));
    }
  }

  return {
    readAll() {
      all = readCovers(counted);
      covers = new Map([...all].map(([key, cover]) => [key, { ...cover }]));
      readUnsourced(covers);
      readShelves();
    },
    readLess() {
      const taken = readCovers(less);
      covers = new Map([...all].map(([key, cover]) => [key, without(cover, taken.get(key))]));
      readUnsourced(covers);
    },
    of(place) {
      const key = placeKey(place);
      const cover = covers.get(key) ?? nothing();
      const named = (name: PartName): Copied => ({
        ...cover[name],
        shelves: cover[name].bytes === 0 ? [] : keys.names(sets.get(partKey(key, name)) ?? 0),
      });
      return { ...cover, footage: named('footage'), made: named('made'), other: named('other') };
    },
  };
}

function coverOf(found: Map<string, PlaceCover>, row: unknown): PlaceCover {
  const key = placeKey(row as Place);
  const cover = found.get(key) ?? nothing();
  found.set(key, cover);
  return cover;
}

function readCovers({ files, units }: { files: StatementSync; units: StatementSync }): Map<string, PlaceCover> {
  const found = new Map<string, PlaceCover>();
  for (const row of files.all()) {
    const cover = coverOf(found, row);
    cover.footageTotal.bytes = Number(row['bytes']);
    cover.anyBytes = Number(row['anyBytes']);
    cover.fewest = numberOrNull(row['fewest']);
    for (const name of PARTS) {
      const oldestReadAt = numberOrNull(row[`${name}Oldest`]);
      cover[name] = { ...NOTHING_COPIED, bytes: Number(row[`${name}Bytes`]), oldestReadAt };
    }
  }
  for (const row of units.all()) {
    const cover = coverOf(found, row);
    cover.footageTotal.clips = Number(row['clips']);
    cover.footageTotal.durationMicros = Number(row['micros']);
    cover.madeCovered = madeOf(row['madeClips'], row['madeBytes'], row['madeMicros']);
  }
  return found;
}

function without(cover: PlaceCover, less: PlaceCover | undefined): PlaceCover {
  if (less === undefined) return { ...cover };
  const rest = (name: PartName): Copied => {
    const bytes = cover[name].bytes - less[name].bytes;
    return bytes === 0 ? NOTHING_COPIED : { ...cover[name], bytes };
  };
  const { footageTotal: all, madeCovered: made } = cover;
  const { footageTotal: gone, madeCovered: madeGone } = less;
  return {
    ...cover,
    footageTotal: {
      bytes: all.bytes - gone.bytes,
      clips: all.clips - gone.clips,
      durationMicros: all.durationMicros - gone.durationMicros,
    },
    anyBytes: cover.anyBytes - less.anyBytes,
    ...{ footage: rest('footage'), made: rest('made'), other: rest('other') },
    madeCovered: {
      clips: made.clips - madeGone.clips,
      bytes: made.bytes - madeGone.bytes,
      durationSeconds: (Math.round(made.durationSeconds * 1e6) - Math.round(madeGone.durationSeconds * 1e6)) / 1e6,
    },
  };
}

function nothing(): PlaceCover {
  return {
    footageTotal: { clips: 0, bytes: 0, durationMicros: 0 },
    ...{ anyBytes: 0, fewest: null, unsourcedBytes: 0 },
    ...{ footage: NOTHING_COPIED, made: NOTHING_COPIED, other: NOTHING_COPIED },
    ...{ madeCovered: NONE_MADE, unsourcedLacking: NONE_MADE },
  };
}

function madeOf(clips: unknown, bytes: unknown, micros: unknown): MadeSum {
  return { clips: Number(clips), bytes: Number(bytes), durationSeconds: Number(micros) / 1e6 };
}

function numberOrNull(value: unknown): number | null {
  return typeof value === 'number' ? value : null;
}

export function placeKey({ volume, area, project }: Place): string {
  return JSON.stringify([volume, area, project]);
}

function partKey(place: string, part: string): string {
  return `${place} ${part}`;
}
