import type { DatabaseSync } from 'node:sqlite';
import { expect, test } from 'vitest';
import { openMethods } from '../../../src/rim/store/methods.ts';
import { openState } from '../../../src/rim/store/open.ts';
import { AT, stateFolders } from './state-folder.ts';

const { cleanup, folder } = stateFolders();

/** A table that grows with the footage read from end to end, or all that it holds of a volume. */
const WHOLE = /^SCAN (file|clip|copy|source)\b|^SEARCH (file|clip) .*INDEX \w+ \(volume=\?\)$/;

/** Those that may, each with its reason. */
const MAY: readonly { sql: RegExp; because: string }[] = [
  {
    sql: /^SELECT json FROM clip .*ORDER BY ready_at DESC.* LIMIT :newest$/,
    because: 'it is asked for the newest few',
  },
  {
    sql: /^INSERT OR IGNORE INTO doomed SELECT id FROM file WHERE volume = \?$/,
    because: 'all of a volume is forgotten',
  },
  {
    sql: /^INSERT INTO covered_file/,
    because: 'verified copies are counted, which takes its share of the time at most',
  },
  {
    sql: /^SELECT ctime_ns .* GROUP BY 1 ORDER BY 1$/,
    because: 'what lies there already is looked at once, when a volume is new',
  },
  {
    sql: /^SELECT file\.\*, \(SELECT json_array\(there\.state.* ORDER BY file\.id LIMIT 1000$/,
    because: 'a backup looks through all files once, in parts, each from where the last one ended',
  },
  {
    sql: /^SELECT count\(\*\) AS files, .* AND NOT EXISTS \(SELECT 1 FROM ledger\.source/,
    because: 'what a shelf lacks is counted now and then',
  },
  {
    sql: /^SELECT copy\.(shelf|volume), .* GROUP BY copy\./,
    because: 'copies are summed now and then, when some were made or went',
  },
  {
    sql: /^INSERT OR REPLACE INTO lost_copy SELECT .* FROM ledger\.copy AS copy CROSS JOIN ledger\.content/,
    because: 'what is on shelves alone is looked for once after a start; later only where files changed',
  },
  {
    sql: /^SELECT file\.\* FROM file WHERE file\.id > .* AND NOT \(EXISTS \(SELECT 1 FROM ledger\.reported/,
    because: 'what a program is handed is looked for in all files once, in parts, each from where the last one ended',
  },
  { sql: /^SELECT 1 FROM ledger\.copy AS copy WHERE .* LIMIT 1$/, because: 'it ends with the first that is verified' },
  { sql: /name COLLATE NOCASE IN \(SELECT value FROM json_each/, because: 'a manifest without sizes was read' },
];

/** Every statement that is prepared, with its plan. */
function plansOf(database: DatabaseSync, open: (database: DatabaseSync) => void): { sql: string; plan: string[] }[] {
  const prepared: string[] = [];
  open(
    new Proxy(database, {
      get(target, name) {
        const value = Reflect.get(target, name, target);
        if (typeof value !== 'function') return value;
        return (...args: unknown[]) => {
          if (name === 'prepare') prepared.push(String(args[0]));
          return Reflect.apply(value, target, args);
        };
      },
    }),
  );
  return prepared.map((sql) => ({
    sql: sql.replaceAll(/\s+/g, ' ').trim(),
    plan: database
      .prepare(`EXPLAIN QUERY PLAN ${sql}`)
      .all()
      .map(({ detail }) => String(detail)),
  }));
}

function readsAll(plans: { sql: string; plan: string[] }[]): string[] {
  return plans.filter(({ plan }) => plan.some((step) => WHOLE.test(step))).map(({ sql }) => sql);
}

test('no statement of the store reads all files or all clips, but those that must', () => {
  const state = openState({ stateDir: folder(), at: AT });
  cleanup(() => state.close(true));
  const plans = plansOf(state.database, (database) => void openMethods({ database }));
  expect(plans.length).toBeGreaterThan(50);
  const found = readsAll(plans);
  expect(found.filter((sql) => !MAY.some((may) => may.sql.test(sql)))).toEqual([]);
  // An exception that nothing needs any more is taken out here.
  expect(MAY.filter((may) => !found.some((sql) => may.sql.test(sql)))).toEqual([]);
});

test('a statement that does is found out', () => {
  const state = openState({ stateDir: folder(), at: AT });
  cleanup(() => state.close(true));
  const bad = [
    'SELECT count(*) FROM file WHERE allocated > ?',
    'SELECT * FROM file WHERE volume = ? AND unit = ? ORDER BY dir, name',
    'SELECT json FROM clip WHERE volume = ? AND area = ?',
  ];
  const plans = plansOf(state.database, (database) => {
    for (const sql of bad) database.prepare(sql);
  });
  expect(readsAll(plans)).toEqual(bad);
});
