import { parseCron } from './cron.ts';
import { BACKUP_DEFAULTS as BACKUP, SHELF_DEFAULTS as SHELF } from './defaults.ts';
import { about, duration, flag, listOf, name, oneOf, path, table, written } from './leaf.ts';

/** Of the media hash list, but for the one that every list has. */
const HASHES = ['c4', 'md5', 'sha1', 'xxh128', 'xxh3'] as const;

const CRON_EXPECTED = 'five cron fields (minute, hour, day, month, weekday), like "0 4 * * *"';

/** A place that backups go to. */
export const shelfTable = table('a [[shelf]] table', {
  name: name('a name', 'shelf-a').meta(about('What the shelf is called. Volumes and shelves share their names.')),
  path: path('/media/shelf-a').meta(about('The folder that backups go to.')),
  rotate: flag('true or false')
    .prefault(SHELF.rotate.value)
    .meta(about('true: it leaves the building, and absence is normal.', SHELF.rotate)),
});

/** What is backed up where, and when. */
export const backupTable = table('a [[backup]] table', {
  from: name('the name of a volume', 'stripe').meta(about('The volume that is backed up.')),
  to: listOf(name('the name of a shelf', 'shelf-a'), 'a list of shelves, like ["shelf-a"]')
    .min(1, { error: 'a list of shelves, like ["shelf-a"]' })
    .meta(about('The shelves it goes to.')),
  nightly: written(CRON_EXPECTED, null, ['0 4 * * *'], parseCron)
    .prefault(BACKUP.nightly.value)
    .meta(about('When it starts, in local time.', BACKUP.nightly)),
  window: duration('6h', '1 min', '24 h')
    .prefault(BACKUP.window.value)
    .meta(about('How long it may take.', BACKUP.window)),
  hashes: listOf(oneOf(HASHES), 'a list of formats, like ["md5"]')
    .prefault(BACKUP.hashes.value)
    .meta(about('Hashes that the lists on the shelf hold besides xxh64.', BACKUP.hashes)),
});
