import { z } from 'zod';
import { about, listOf, table } from './leaf.ts';
import { backupTable, shelfTable } from './schema-backup.ts';
import { arrivalsTable, cardsTable, logTable, pageTable, thresholdsTable } from './schema-daemon.ts';
import { notifyTable } from './schema-notify.ts';
import { planTable } from './schema-plan.ts';
import { kindsTable, layoutTable, speedTable, volumeTable } from './schema-volume.ts';

/**
 * The configuration file as it is written, key for key. Its output has units resolved to bytes and seconds;
 * `assemble.ts` gives it our names.
 */
export const configuration = table('a configuration', {
  volume: listOf(volumeTable, '[[volume]] tables')
    .prefault([])
    .meta(about('Working volumes: the file systems that are edited from.')),
  shelf: listOf(shelfTable, '[[shelf]] tables').prefault([]).meta(about('Places that backups go to.')),
  backup: listOf(backupTable, '[[backup]] tables').prefault([]).meta(about('What is backed up where, and when.')),
  plan: listOf(planTable, '[[plan]] tables').prefault([]).meta(about('Shoot plans: what is still to come.')),
  notify: listOf(notifyTable, '[[notify]] tables')
    .prefault([])
    .meta(about('Who is told of advisories, besides the log.')),
  arrivals: arrivalsTable.prefault({}).meta(about('When an arrival counts as complete.')),
  cards: cardsTable.prefault({}).meta(about('Camera cards that are mounted: what is on them and has not arrived.')),
  thresholds: thresholdsTable.prefault({}).meta(about('When something is told, and when it is over.')),
  page: pageTable.prefault({}).meta(about('The status page.')),
  log: logTable.prefault({}).meta(about('The log.')),
});

export type Configuration = z.output<typeof configuration>;

/** Known keys of each table, by its place in the file. */
export const KNOWN_KEYS: ReadonlyMap<string, readonly string[]> = new Map(
  Object.entries({
    '': configuration,
    volume: volumeTable,
    'volume.kinds': kindsTable,
    'volume.layout': layoutTable,
    'volume.speed': speedTable,
    shelf: shelfTable,
    backup: backupTable,
    plan: planTable,
    notify: notifyTable,
    arrivals: arrivalsTable,
    cards: cardsTable,
    thresholds: thresholdsTable,
    page: pageTable,
    log: logTable,
  }).map(([place, schema]) => [place, Object.keys(schema.shape)]),
);

/** The JSON Schema (draft 7, which editors read) of what may be written. */
export function configurationJsonSchema(): object {
  const { $schema, ...rest } = z.toJSONSchema(configuration, { io: 'input', target: 'draft-7' });
  return { $schema, title: 'Configuration of headroomd', ...rest };
}
