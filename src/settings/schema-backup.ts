import { parseCron } from './cron.ts';
import { BACKUP_DEFAULTS as BACKUP, SHELF_DEFAULTS as SHELF } from './defaults.ts';
import { about, duration, flag, listOf, name, oneOf, path, table, written } from './leaf.ts';
import { type Reading, refused, understood } from './reading.ts';

/** Of the media hash list, but for the one that every list has. */
const HASHES = ['c4', 'md5', 'sha1', 'xxh128', 'xxh3'] as const;

const CRON_EXPECTED = 'five cron fields (minute, hour, day, month, weekday), like "0 4 * * *"';

const COMMAND_EXPECTED = 'a program and its arguments, like ["/usr/local/bin/to-tape", "{list}"]';
const argument = written('a text without a zero character', null, ['{list}'], parseArgument);

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
    .optional()
    .meta(about('The shelves it goes to.')),
  name: name('a name for what the command copies to,', 'tape')
    .optional()
    .meta(about('What the command below is called. Volumes, shelves and commands share their names.')),
  command: listOf(argument, COMMAND_EXPECTED)
    .min(1, { error: COMMAND_EXPECTED })
    .optional()
    .meta(about('A program of yours that copies: its path and its arguments, without a shell.')),
  read_back: path('/mnt/tape')
    .optional()
    .meta(about('The folder below which its copies can be read back, if they can.')),
  nightly: written(CRON_EXPECTED, null, ['0 4 * * *'], parseCron)
    .prefault(BACKUP.nightly.value)
    .meta(about('When it starts, in local time.', BACKUP.nightly)),
  window: duration('6h', '1 min', '24 h')
    .prefault(BACKUP.window.value)
    .meta(about('How long it may take.', BACKUP.window)),
  reread: duration('60 d', '1 d', '365 d')
    .prefault(BACKUP.reread.value)
    .meta(about('Each copy is read again from its shelf within so long.', BACKUP.reread)),
  hashes: listOf(oneOf(HASHES), 'a list of formats, like ["md5"]')
    .prefault(BACKUP.hashes.value)
    .meta(about('Hashes that the lists on the shelf hold besides xxh64.', BACKUP.hashes)),
});

/** Of a program: anything that a process can be handed. */
function parseArgument(text: string): Reading<string> {
  return text.includes('\0') ? refused('no argument holds a zero character') : understood(text);
}
