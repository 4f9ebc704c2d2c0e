import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { afterEach } from 'vitest';
import { emptyFootprint, addClip as plusClip } from '../../../src/core/assess/footprint.ts';
import type { Clip } from '../../../src/core/model.ts';
import { openStore, type Store } from '../../../src/rim/store/store.ts';

export const AT = Date.UTC(2027, 2, 4, 4);

export interface Logged {
  level: 'debug' | 'info' | 'warn' | 'error';
  fields: object;
  message: string;
}

/** A folder for the state that goes after the test, and stores on it that are closed by then. */
export function stateFolders() {
  const cleanups: (() => Promise<void> | void)[] = [];
  const logged: Logged[] = [];
  const note = (level: Logged['level']) => (fields: object, message: string) => {
    logged.push({ level, fields, message });
  };
  const log = { debug: note('debug'), info: note('info'), warn: note('warn'), error: note('error') };
  afterEach(async () => {
    for (const cleanup of cleanups.splice(0).reverse()) await cleanup();
    logged.length = 0;
  });
  return {
    logged,
    /** `parent` is the folder in which it is made. */
    folder(parent = tmpdir()): string {
      const dir = mkdtempSync(join(parent, 'store-'));
      cleanups.push(() => rmSync(dir, { recursive: true, force: true }));
      return dir;
    },
    cleanup(run: () => Promise<void> | void): void {
      cleanups.push(run);
    },
    async open(stateDir: string, now: () => number = () => AT): Promise<Store> {
      const store = await openStore({ stateDir, now, log });
      cleanups.push(() => store.close().catch(() => {}));
      return store;
    },
  };
}

/** The fault that a promise rejects with. */
export async function faultOf(promise: Promise<unknown>): Promise<{ code: string; message: string; cause?: unknown }> {
  try {
    await promise;
  } catch (error) {
    return error as { code: string; message: string; cause?: unknown };
  }
  throw new Error('expected a rejection');
}

/** Sums stored in a closed catalogue, and the same counted again from its rows by plain SQL, hard links included. */
export function storedAndRecounted(catalogue: string): { stored: unknown; recounted: unknown } {
  const database = new DatabaseSync(catalogue);
  try {
    const files = (sql: string) => database.prepare(sql).all();
    const stored = {
      files: files(`SELECT volume, area, project, kind, files, bytes FROM file_sum ORDER BY 1, 2, 3, 4`),
      clips: files(`SELECT key, clips, bytes, duration_us FROM clip_sum ORDER BY key`),
    };
    const recounted = {
      files: files(`
        SELECT volume, area, project, kind, count(*) AS files, sum(size * first) AS bytes FROM (
          SELECT *, nlink < 2 OR row_number() OVER (PARTITION BY volume, ino, dev, nlink > 1
            ORDER BY kind IN ('original', 'sound', 'still') AND area NOT IN ('trash', 'system') DESC, dir, name) = 1 AS first
          FROM file) GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4`),
      clips: recountClips(database),
    };
    return { stored, recounted };
  } finally {
    database.close();
  }
}

function recountClips(database: DatabaseSync): unknown[] {
  const footprint = emptyFootprint();
  for (const { json } of database.prepare('SELECT json FROM clip').all()) {
    plusClip(footprint, JSON.parse(String(json)) as Clip, 1);
  }
  return [...footprint.clips]
    .map(([key, { clips, bytes, durationMicros }]) => ({ key, clips, bytes, duration_us: durationMicros }))
    .sort((a, b) => Buffer.compare(Buffer.from(a.key), Buffer.from(b.key)));
}
