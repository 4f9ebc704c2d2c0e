import type { DatabaseSync } from 'node:sqlite';
import { type FoundGroup, findMulticam } from '../../core/assess/multicam.ts';
import { type ProjectSigns, type SignClip, signsOf } from '../../core/assess/project-signs.ts';
import { spansOf } from '../../core/assess/spans.ts';
import type { SearchAnswer } from '../../core/multicam-port.ts';

/** Clips read in one call: some 20 ms of the worker's time. */
const SLICE = 2000;

/** `MulticamPort.step`. Each call is short: others get their turn in between. */
type Step = (volume: string, project: string, known: boolean) => SearchAnswer;

/** A search under way: which clips were read so far, and how often the project had changed when it began. */
interface Search {
  volume: string;
  project: string;
  changes: number;
  clips: SignClip[];
  after: { readyAt: number; id: number };
}

/** What is kept of a search. */
interface Findings {
  groups: FoundGroup[];
  signs: ProjectSigns;
}

const NOTHING = { groups: [], signs: null };

/** `null`: kept before there were signs, when it was the list of groups. */
function keptFindings(json: string): Findings | null {
  const kept = JSON.parse(json);
  return Array.isArray(kept) ? null : (kept as Findings);
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
      const found = earlier === undefined ? null : keptFindings(String(earlier['json']));
      const told = found === null || known ? NOTHING : found;
      if (found !== null && earlier?.['changes'] === changes) return { step: 'current', ...told };
      search = { volume, project, changes, clips: [], after: { readyAt: Number.MIN_SAFE_INTEGER, id: 0 } };
      if (found !== null && !known) return { step: 'earlier', ...told };
    }
    if (read(search)) return { step: 'more', ...NOTHING };
    const { changes, clips } = search;
    search = null;
    const findings = { groups: findMulticam(spansOf(clips)), signs: signsOf(clips, { volume, project }) };
    keep.run(volume, project, changes, JSON.stringify(findings));
    return { step: 'found', ...findings };
  };
}

/** Reads the next clips into the search, in the order in which they became ready. False: there are no more. */
function openRead(database: DatabaseSync, slice: number): (search: Search) => boolean {
  const next = database.prepare(`
    SELECT rowid AS id, ready_at AS readyAt,
      CASE WHEN json_extract(json, '$.kind') IN ('original', 'sound', 'proxy', 'render') THEN
        json_object('unit', unit, 'kind', json -> '$.kind', 'name', json -> '$.name',
          'paths', json_array(json -> '$.paths[0]'), 'bytes', bytes, 'essenceBytes', json -> '$.essenceBytes',
          'facts', json_object('codec', json -> '$.facts.codec',
          'profile', json -> '$.facts.profile', 'width', json -> '$.facts.width', 'height', json -> '$.facts.height',
          'frameRate', json -> '$.facts.frameRate', 'durationSeconds', json -> '$.facts.durationSeconds',
          'startTimecode', json -> '$.facts.startTimecode', 'reel', json -> '$.facts.reel',
          'camera', json -> '$.facts.camera', 'recordedAt', json -> '$.facts.recordedAt',
          'recordedAtBasis', json -> '$.facts.recordedAtBasis')) END AS looked
    FROM clip INDEXED BY clip_newest_of_project
    WHERE project = ? AND (ready_at, rowid) > (?, ?) AND volume = ? ORDER BY ready_at, rowid LIMIT ?`);
  return (search) => {
    const rows = next.all(search.project, search.after.readyAt, search.after.id, search.volume, slice);
    for (const { id, readyAt, looked } of rows) {
      if (looked !== null) search.clips.push(JSON.parse(String(looked)) as SignClip);
      search.after = { readyAt: Number(readyAt), id: Number(id) };
    }
    return rows.length === slice;
  };
}
