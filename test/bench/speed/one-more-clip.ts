import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { DatabaseSync } from 'node:sqlite';
import type { AngleClip } from '../../../src/core/assess/clip-times.ts';
import type { SearchAnswer } from '../../../src/core/multicam-port.ts';
import { openMulticamSearch } from '../../../src/rim/store/multicam-search.ts';
import { openState } from '../../../src/rim/store/open.ts';
import { shootUnder } from '../../core/assess/multicam-days.ts';
import { type Figure, median } from '../figure.ts';

const CLIPS = 100_000;
const MORE = 200;
const PROJECT = 'Lock Keepers';

/**
 * What one more clip of a large project costs until its groups are known: in the store as it is used, read from SQLite, searched,
 * handed over as between threads, and kept in SQLite. Beside it the same for all of them once more.
 */
export function oneMoreClip(): Figure[] {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-one-more-'));
  const state = openState({ stateDir: folder, at: Date.now() });
  try {
    const { clips, more } = largeProject();
    const put = writer(state.database);
    state.database.exec('BEGIN');
    for (const clip of clips) put(clip);
    state.database.exec('COMMIT');
    const first = searchOf(state.database);
    const full = first();
    const each = more.map((clip) => {
      put(clip);
      return first();
    });
    const one = median(each.map(({ ms }) => ms));
    return [
      {
        name: `one more clip among ${clips.length}, ${full.groups} groups; the slowest took ${Math.max(...each.map(({ ms }) => ms)).toFixed(1)} ms`,
        ...{ value: one, unit: 'ms', peer: { name: 'all of them once more', value: full.ms } },
        ...{ goal: '<= 5 ms', holds: one <= 5 },
      },
      {
        name: 'longest step of the search over all of them, during which others wait',
        ...{ value: full.longestMs, unit: 'ms', peer: null, goal: null, holds: null },
      },
    ];
  } finally {
    state.close(true);
    rmSync(folder, { recursive: true, force: true });
  }
}

function largeProject(): { clips: AngleClip[]; more: AngleClip[] } {
  const clips: AngleClip[] = [];
  const more: AngleClip[] = [];
  for (let seed = 1; clips.length < CLIPS; seed++) {
    // Each shoot on days of its own.
    const shoot = shootUnder('record-run', seed, 10).clips.map((clip) => moved(clip, seed));
    clips.push(...shoot.slice(1));
    if (more.length < MORE) more.push(...shoot.slice(0, 1));
  }
  return { clips, more };
}

function moved(clip: AngleClip, shoot: number): AngleClip {
  const { recordedAt } = clip.facts;
  const later = new Date(Date.parse(recordedAt ?? '') + shoot * 11 * 86_400_000).toISOString();
  return { ...clip, unit: `${shoot}/${clip.unit}`, facts: { ...clip.facts, recordedAt: later } };
}

function writer(database: DatabaseSync): (clip: AngleClip) => void {
  const insert = database.prepare(`
    INSERT INTO clip (volume, unit, base, area, project, exposable, ready_at, bytes, duration_us, json)
    VALUES ('stripe', ?, ?, 'project', ?, 1, ?, 1000, 0, ?)`);
  let readyAt = 0;
  return (clip) => {
    readyAt += 1;
    const json = JSON.stringify({ ...clip, volume: 'stripe', project: PROJECT, bytes: 1000 });
    insert.run(clip.unit, clip.unit, PROJECT, readyAt, json);
  };
}

/** Asks until it is through. */
function searchOf(database: DatabaseSync): () => { ms: number; longestMs: number; groups: number } {
  const step = openMulticamSearch(database);
  let isKnown = false;
  return () => {
    const began = performance.now();
    const sum = { longestMs: 0, groups: 0 };
    for (let answer: SearchAnswer | null = null; answer?.step !== 'found'; isKnown = true) {
      const asked = performance.now();
      answer = structuredClone(step('stripe', PROJECT, isKnown));
      sum.longestMs = Math.max(sum.longestMs, performance.now() - asked);
      sum.groups += answer.sessions.reduce((all, { groups }) => all + groups.length, 0);
    }
    return { ms: performance.now() - began, ...sum };
  };
}
