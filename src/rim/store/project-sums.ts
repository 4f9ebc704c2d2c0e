import type { DatabaseSync } from 'node:sqlite';
import { exposedOf, type FootageTotal, foldProjects, type ProjectFootprint } from '../../core/assess/footprint.ts';
import type { ProjectSum } from '../../core/ports.ts';
import type { Sums } from './sums.ts';

/** A project, or an area outside projects, of one volume. */
type Place = Pick<ProjectFootprint, 'volume' | 'area' | 'project'>;

const NOTHING: FootageTotal = { clips: 0, bytes: 0, durationMicros: 0 };

/**
 * The sums of every project with its exposure: footage clips with fewer than `wantedCopies` verified copies.
 *
 * Read from the running sums; what is covered is counted from the side of the copies, so no copies cost nothing.
 */
export function openProjects(database: DatabaseSync, sums: Sums, isLost: () => boolean) {
  const coverage = openCoverage(database);
  const earliest = database.prepare(`
    SELECT ready_at FROM clip WHERE volume = ? AND area = ? AND project IS ? AND footage = 1
      AND NOT EXISTS (SELECT 1 FROM covered WHERE covered.volume = clip.volume AND covered.unit = clip.base)
    ORDER BY ready_at LIMIT 1`);

  const since = ({ volume, area, project }: Place): number | null => {
    const found = earliest.get(volume, area, project)?.['ready_at'];
    return typeof found === 'number' ? found : null;
  };
  return (wantedCopies: number): ProjectSum[] => {
    const entries = foldProjects(sums.files(), sums.clips());
    if (isLost()) return entries.map(({ footageClips: _, ...entry }) => ({ ...entry, exposed: null }));
    const covered = wantedCopies < 1 ? null : coverage(wantedCopies);
    return entries.map(({ footageClips, ...entry }) => {
      const safe = covered === null ? footageClips : (covered.get(placeKey(entry)) ?? NOTHING);
      return { ...entry, exposed: exposedOf(footageClips, safe, since(entry)) };
    });
  };
}

/**
 * Footage with enough verified copies, by place. A clip is covered when every file of its unit, in the version that is
 * on the volume now (same size and modification time), has them; two shelves on one device are one copy.
 */
function openCoverage(database: DatabaseSync): (wantedCopies: number) => Map<string, FootageTotal> {
  const anyCopy = database.prepare("SELECT 1 FROM ledger.copy WHERE grade = 'verified' LIMIT 1");
  const clear = database.prepare('DELETE FROM covered');
  const fill = database.prepare(`
    INSERT INTO covered
    SELECT volume, unit FROM (
      SELECT file.volume, file.unit
      FROM ledger.copy AS copy CROSS JOIN file USING (volume, dir, name)
      WHERE copy.grade = 'verified' AND copy.size = file.size AND copy.mtime_ns = file.mtime_ns
      GROUP BY file.id
      HAVING min(count(DISTINCT copy.shelf), count(DISTINCT coalesce('d' || copy.shelf_device, 's' || copy.shelf))) >= ?
    ) AS safe
    GROUP BY volume, unit
    HAVING count(*) = (SELECT count(*) FROM file WHERE file.volume = safe.volume AND file.unit = safe.unit)`);
  const total = database.prepare(`
    SELECT clip.volume, area, project, count(*) AS clips, sum(bytes) AS bytes, sum(duration_us) AS duration_us
    FROM covered CROSS JOIN clip ON clip.volume = covered.volume AND clip.base = covered.unit
    WHERE footage = 1 GROUP BY clip.volume, area, project`);

  return (wantedCopies) => {
    clear.run();
    const found = new Map<string, FootageTotal>();
    if (anyCopy.get() === undefined) return found;
    fill.run(wantedCopies);
    for (const row of total.all()) {
      const sum = {
        clips: Number(row['clips']),
        bytes: Number(row['bytes']),
        durationMicros: Number(row['duration_us']),
      };
      found.set(placeKey(row as unknown as Place), sum);
    }
    return found;
  };
}

function placeKey({ volume, area, project }: Place): string {
  return JSON.stringify([volume, area, project]);
}
