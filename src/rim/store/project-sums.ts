import type { DatabaseSync } from 'node:sqlite';
import { exposedOf, type FootageTotal, foldProjects, type ProjectFootprint } from '../../core/assess/footprint.ts';
import type { ProjectSum } from '../../core/ports.ts';
import type { Sums } from './sums.ts';

/** A project, or an area outside projects, of one volume. */
type Place = Pick<ProjectFootprint, 'volume' | 'area' | 'project'>;

/**
 * The sums of every project with its exposure: footage with fewer than `wantedCopies` verified copies.
 *
 * Read from the running sums; what is covered is counted from the side of the copies, so no copies cost nothing.
 */
export function openProjects(database: DatabaseSync, sums: Sums, isLost: () => boolean) {
  const coverage = openCoverage(database);
  // Footage whose unit is wholly covered is skipped; what is left comes in the index's order, earliest first.
  const earliest = database.prepare(`
    SELECT first_seen_at AS at FROM file
    WHERE volume = ? AND area = ? AND project IS ? AND exposable = 1 AND size > 0
      AND NOT EXISTS (SELECT 1 FROM covered WHERE covered.volume = file.volume AND covered.unit = file.unit)
    ORDER BY first_seen_at LIMIT 1`);

  const since = ({ volume, area, project }: Place): number | null => {
    const found = earliest.get(volume, area, project)?.['at'];
    return typeof found === 'number' ? found : null;
  };
  return (wantedCopies: number): ProjectSum[] => {
    const entries = foldProjects(sums.files(), sums.clips());
    if (isLost()) return entries.map(({ exposable: _, ...entry }) => ({ ...entry, exposed: null }));
    const covered = wantedCopies < 1 ? null : coverage(wantedCopies);
    return entries.map(({ exposable, ...entry }) => {
      const safe = covered === null ? exposable : (covered.get(placeKey(entry)) ?? nothing());
      return { ...entry, exposed: exposedOf(exposable, safe, since(entry)) };
    });
  };
}

/**
 * Footage with enough verified copies, by place. A file is covered when the version that is on the volume now (same size
 * and modification time) has them under any of its names; two shelves on one device are one copy. A clip is covered when
 * every file of its unit is.
 */
function openCoverage(database: DatabaseSync): (wantedCopies: number) => Map<string, FootageTotal> {
  const anyCopy = database.prepare("SELECT 1 FROM ledger.copy WHERE grade = 'verified' LIMIT 1");
  const clearFiles = database.prepare('DELETE FROM covered_file');
  const clearUnits = database.prepare('DELETE FROM covered');
  const fill = openFill(database);
  const files = database.prepare(`
    SELECT volume, area, project, sum(size) AS bytes FROM covered_file CROSS JOIN file USING (id)
    WHERE exposable = 1 AND counted = 1 GROUP BY volume, area, project`);
  const clips = database.prepare(`
    SELECT clip.volume, area, project, count(*) AS clips, sum(duration_us) AS duration_us
    FROM covered CROSS JOIN clip ON clip.volume = covered.volume AND clip.base = covered.unit
    WHERE exposable = 1 GROUP BY clip.volume, area, project`);

  return (wantedCopies) => {
    clearFiles.run();
    clearUnits.run();
    const found = new Map<string, FootageTotal>();
    if (anyCopy.get() === undefined) return found;
    fill(wantedCopies);
    for (const row of files.all()) totalOf(found, row as unknown as Place).bytes = Number(row['bytes']);
    for (const row of clips.all()) {
      const total = totalOf(found, row as unknown as Place);
      total.clips = Number(row['clips']);
      total.durationMicros = Number(row['duration_us']);
    }
    return found;
  };
}

/** Fills the tables of covered files and of units all of whose files are covered. */
function openFill(database: DatabaseSync): (wantedCopies: number) => void {
  const files = database.prepare(`
    INSERT INTO covered_file
    SELECT file.id FROM ledger.copy AS copy CROSS JOIN file USING (volume, dir, name)
    WHERE copy.grade = 'verified' AND copy.size = file.size AND copy.mtime_ns = file.mtime_ns
    GROUP BY file.id
    HAVING min(count(DISTINCT copy.shelf), count(DISTINCT coalesce('d' || copy.shelf_device, 's' || copy.shelf))) >= ?`);
  const otherNames = database.prepare(`
    INSERT OR IGNORE INTO covered_file
    SELECT other.id FROM covered_file CROSS JOIN file USING (id)
      CROSS JOIN file AS other ON other.volume = file.volume AND other.ino = file.ino AND other.dev = file.dev
    WHERE file.nlink > 1 AND other.nlink > 1 AND other.size = file.size AND other.mtime_ns = file.mtime_ns`);
  const units = database.prepare(`
    INSERT INTO covered
    SELECT volume, unit FROM covered_file CROSS JOIN file AS safe USING (id) GROUP BY volume, unit
    HAVING count(*) = (SELECT count(*) FROM file WHERE file.volume = safe.volume AND file.unit = safe.unit)`);
  return (wantedCopies) => {
    files.run(wantedCopies);
    otherNames.run();
    units.run();
  };
}

function totalOf(found: Map<string, FootageTotal>, place: Place): FootageTotal {
  const key = placeKey(place);
  const total = found.get(key) ?? nothing();
  found.set(key, total);
  return total;
}

function nothing(): FootageTotal {
  return { clips: 0, bytes: 0, durationMicros: 0 };
}

function placeKey({ volume, area, project }: Place): string {
  return JSON.stringify([volume, area, project]);
}
