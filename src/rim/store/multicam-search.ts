import type { DatabaseSync } from 'node:sqlite';
import { type FoundGroup, findMulticam } from '../../core/assess/multicam.ts';
import { type AngleClip, spansOf } from '../../core/assess/spans.ts';
import type { SearchStep } from '../../core/multicam-port.ts';

/** Clips read in one call: some 20 ms of the worker's time. */
const SLICE = 2000;

/** `MulticamPort.step`. Each call is short: others get their turn in between. */
type Step = (volume: string, project: string, known: boolean) => { step: SearchStep; groups: FoundGroup[] };

/** A search under way: which clips were read so far, and how often the project had changed when it began. */
interface Search {
  volume: string;
  project: string;
  changes: number;
  clips: AngleClip[];
  after: { readyAt: number; id: number };
}

/** Searches for multicam groups, one project at a time: who asks for another gives up the one before. */
export function openMulticamSearch(database: DatabaseSync, slice = SLICE): Step {
  const changesOf = database.prepare('SELECT changes FROM clip_change WHERE volume = ? AND project = ?');
  const kept = database.prepare('SELECT changes, json FROM multicam WHERE volume = ? AND project = ?');
  const keep = database.prepare(`
    INSERT INTO multicam VALUES (?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET changes = excluded.changes, json = excluded.json`);
  const read = openRead(database, slice);
  let search: Search | null = null;

  return (volume, project, known) => {
    if (search === null || search.volume !== volume || search.project !== project) {
      const changes = Number(changesOf.get(volume, project)?.['changes'] ?? 0);
      const earlier = kept.get(volume, project);
      const groups = earlier === undefined || known ? [] : (JSON.parse(String(earlier['json'])) as FoundGroup[]);
      if (earlier?.['changes'] === changes) return { step: 'current', groups };
      search = { volume, project, changes, clips: [], after: { readyAt: Number.MIN_SAFE_INTEGER, id: 0 } };
      if (earlier !== undefined && !known) return { step: 'earlier', groups };
    }
    if (read(search)) return { step: 'more', groups: [] };
    const { changes, clips } = search;
    search = null;
    const groups = findMulticam(spansOf(clips));
    keep.run(volume, project, changes, JSON.stringify(groups));
    return { step: 'found', groups };
  };
}

/** Reads the next clips into the search, in the order in which they became ready. False: there are no more. */
function openRead(database: DatabaseSync, slice: number): (search: Search) => boolean {
  const next = database.prepare(`
    SELECT rowid AS id, ready_at AS readyAt,
      CASE WHEN json_extract(json, '$.kind') = 'original' AND json_extract(json, '$.facts.width') IS NOT NULL THEN
        json_object('unit', unit, 'kind', 'original', 'name', json -> '$.name', 'paths', json_array(json -> '$.paths[0]'),
          'essenceBytes', json -> '$.essenceBytes', 'facts', json_object('codec', json -> '$.facts.codec',
          'profile', json -> '$.facts.profile', 'width', json -> '$.facts.width', 'height', json -> '$.facts.height',
          'frameRate', json -> '$.facts.frameRate', 'durationSeconds', json -> '$.facts.durationSeconds',
          'startTimecode', json -> '$.facts.startTimecode', 'reel', json -> '$.facts.reel',
          'camera', json -> '$.facts.camera', 'recordedAt', json -> '$.facts.recordedAt',
          'recordedAtBasis', json -> '$.facts.recordedAtBasis')) END AS angle
    FROM clip INDEXED BY clip_newest_of_project
    WHERE project = ? AND (ready_at, rowid) > (?, ?) AND volume = ? ORDER BY ready_at, rowid LIMIT ?`);
  return (search) => {
    const rows = next.all(search.project, search.after.readyAt, search.after.id, search.volume, slice);
    for (const { id, readyAt, angle } of rows) {
      if (angle !== null) search.clips.push(JSON.parse(String(angle)) as AngleClip);
      search.after = { readyAt: Number(readyAt), id: Number(id) };
    }
    return rows.length === slice;
  };
}
