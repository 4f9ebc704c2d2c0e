import { parseCron } from './cron.ts';
import { BACKUP_DEFAULTS as BACKUP, SHELF_DEFAULTS as SHELF } from './defaults.ts';
import { about, duration, flag, listOf, name, path, table, written } from './leaf.ts';

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
  reread: duration('60 d', '1 d', '365 d')
    .prefault(BACKUP.reread.value)
    .meta(about('Each copy is read again from its shelf within so long.', BACKUP.reread)),
});
