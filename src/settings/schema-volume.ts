import { VOLUME_DEFAULTS as VOLUME } from './defaults.ts';
import { DRIVES, LEVELS, LINKS } from './layout.ts';
import {
  about,
  folderName,
  listOf,
  name,
  oneOf,
  path,
  room,
  share,
  speed,
  table,
  wholeNumber,
  written,
} from './leaf.ts';
import { parseFolderBelow, parsePattern } from './places.ts';
import { type Reading, refused, understood } from './reading.ts';

const PROJECTS_EXPECTED =
  '"*" (first-level folders), "*/*" (one deeper, and so on), "." (the folder itself) or "guess"';
const PROJECTS_PATTERN = '^(guess|\\.|\\*(/\\*){0,7})$';

export const layoutTable = table('a table like { level = "0", members = 4, drive = "nvme" }', {
  level: oneOf(LEVELS).meta(about('RAID level; "single" is one drive.')),
  members: wholeNumber('a whole number of drives, 1 to 256', 1, 256).meta(about('How many drives it is made of.')),
  drive: oneOf(DRIVES).meta(about('What the drives are.')),
  link: oneOf(LINKS).optional().meta(about('What the volume hangs on: the narrowest part of the way to the computer.')),
});

export const speedTable = table('a table like { read = "1700 MB/s", write = "1500 MB/s" }', {
  read: speed('1700 MB/s').meta(about('What the whole volume reads, one large file after the other.')),
  write: speed('1500 MB/s').meta(about('What it writes.')),
});

const folderNames = (what: string, example: string) =>
  listOf(folderName('the name of a folder', example), `a list of folder names, like ["${example}"]`)
    .optional()
    .meta(about(what));

/** Kinds that folders may be said to hold: those that their content alone may tell wrongly. */
export const kindsTable = table('a table like { proxy = ["Small Pictures"] }', {
  original: folderNames('What was recorded, whatever the name of the folder says.', 'Exports'),
  proxy: folderNames('Small pictures, made from originals.', 'Small Pictures'),
  render: folderNames('What was made of originals.', 'Masters'),
  cache: folderNames('What programs keep and make again by themselves.', 'Peaks'),
  graphics: folderNames('Titles and drawings.', 'Boards'),
});

/** A working volume. */
export const volumeTable = table('a [[volume]] table', {
  name: name('a name', 'stripe').meta(
    about('What the volume is called on the screen and in commands. Each name only once.'),
  ),
  path: path('/media/stripe').meta(about('The folder that is edited from: a mount point, or a folder on one.')),
  projects: written(PROJECTS_EXPECTED, PROJECTS_PATTERN, ['*', '*/*', '.'], parseProjects)
    .prefault(VOLUME.projects.value)
    .meta(about('Which folders are projects.', VOLUME.projects)),
  ingest: listOf(
    written('a folder below the volume, like "Footage"', null, ['Footage'], parseFolderBelow),
    'a list of folders, like ["Footage"]',
  )
    .prefault(VOLUME.ingest.value)
    .meta(about('Folders below the volume that are watched; none: all of it.', VOLUME.ingest)),
  ignore: listOf(
    written('a pattern like "**/Scratch/**"', null, ['**/Scratch/**'], parsePattern),
    'a list of patterns, like ["**/Scratch/**"]',
  )
    .prefault(VOLUME.ignore.value)
    .meta(about('Patterns of paths below the volume that are neither watched nor counted.', VOLUME.ignore)),
  shared: listOf(folderName(), 'a list of folder names, like ["renders"]')
    .prefault(VOLUME.shared.value)
    .meta(about('First-level folders that belong to no project.', VOLUME.shared)),
  kinds: kindsTable.optional().meta(about('What is in folders of these names, before any other sign decides.')),
  reserve: room().prefault(VOLUME.reserve.value).meta(about('Room kept free.', VOLUME.reserve)),
  layout: layoutTable.optional().meta(about('How the volume is built; only where it cannot be detected.')),
  speed: speedTable
    .optional()
    .meta(about('Measured speed of the volume; without it, or a measurement, speed is told as unknown.')),
  multicam: listOf(
    name('the name of a project', 'Tidewater Sessions'),
    'a list of projects, like ["Tidewater Sessions"]',
  )
    .prefault(VOLUME.multicam.value)
    .meta(about('Projects that are cut as multicam.', VOLUME.multicam)),
  speed_reserve: share('30%', 0, 0.99, 'from 0% to 99%')
    .prefault(VOLUME.speedReserve.value)
    .meta(about('Share of the speed kept free.', VOLUME.speedReserve)),
});

function parseProjects(text: string): Reading<string> {
  return new RegExp(PROJECTS_PATTERN).test(text) ? understood(text) : refused();
}
