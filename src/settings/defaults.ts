/** What holds when a setting is not written, as it would be written, and why. The annotated file quotes every reason. */
interface Default<T> {
  value: T;
  why: string;
}

/** A default with its reason; keeps `value` as narrow as it is written. */
function because<T extends string | number | boolean | string[]>(value: T, why: string): Default<T> {
  return { value, why };
}

/** Of each working volume. */
export const VOLUME_DEFAULTS = {
  projects: because('guess', 'the folders themselves show it nearly always, and the guess is printed at the start.'),
  reserve: because(
    '10%',
    'file systems slow down and fragment when nearly full, and a shoot day must still fit while somebody makes room (common practice, no source).',
  ),
  ingest: because<string[]>(
    [],
    'footage lands in other places than planned; what is not watched cannot be warned about.',
  ),
  ignore: because<string[]>([], 'system folders are left out anyway, and everything else takes room.'),
  shared: because<string[]>([], 'the usual names of caches and renders are known.'),
  multicam: because<string[]>(
    [],
    'cameras that ran at the same time are no multicam edit yet; what they would need is told as a notice.',
  ),
  speedReserve: because(
    '30%',
    'at 70 % load a request waits about 3.3 times as long as on an idle volume (1 / (1 - load), the M/M/1 queue); beyond that playback stutters first.',
  ),
};

export const ARRIVAL_DEFAULTS = {
  quiet: because(
    '300 ms',
    'enough once no program has the file open and its own structure is whole, and short enough to be told at once.',
  ),
  quietWithoutStructure: because(
    '2 s',
    'quiet alone has to carry the decision there, and copies pause for a second or so.',
  ),
  quietRemote: because(
    '30 s',
    'a server may hold sizes and times back for many seconds, and other writers cannot be seen.',
  ),
  stalledAfter: because('10 min', 'no copy that is still running pauses that long; a pulled card or a full disk does.'),
  sweepEvery: because('10 s', 'what events missed is found soon, at a small fraction of one core.'),
  fullSweepEvery: because(
    '15 min',
    'it reads every folder, so it is kept rare; it finds what folder times do not show.',
  ),
};

export const THRESHOLD_DEFAULTS = {
  speedRaise: because('100%', 'the reserve is already off the budget, so this is the point where the promise ends.'),
  speedClear: because('90%', 'a gap between the two keeps a demand near the line from being told again and again.'),
  raiseAfter: because('20 s', 'scrubbing and the start of a clip make short peaks that nobody need hear of.'),
  clearAfter: because('60 s', 'a pause between two takes is not the end of the load.'),
  wantedCopies: because(
    2,
    'three copies in all, on two kinds of media, one of them elsewhere (the 3-2-1 rule of the trade); the working volume holds the first.',
  ),
};

export const CARD_DEFAULTS = {
  look: because(
    true,
    'a copy that ends between two files leaves nothing unfinished behind; only the card tells what is missing.',
  ),
  under: because(
    ['/media', '/run/media', '/mnt'],
    'desktops mount what is plugged in below the first two (udisks), people below the third (Filesystem Hierarchy Standard 3.0).',
  ),
};

export const PAGE_DEFAULTS = {
  enabled: because(true, 'it listens on loopback only, so nobody but this computer can open it.'),
  metrics: because(
    false,
    'they name volumes, shelves and projects, and loopback is open to every user of this computer.',
  ),
  port: because(4717, 'it needs no privileges, and Linux hands out 32768 to 60999 by itself, not this one.'),
};

export const LOG_DEFAULTS = {
  level: because('info', 'what arrived and what was decided, a few lines per clip.'),
};

export const SHELF_DEFAULTS = {
  rotate: because(false, 'a shelf that is missing is told, unless it was said that it leaves the building.'),
};

export const BACKUP_DEFAULTS = {
  nightly: because(
    '0 4 * * *',
    'after the day, and outside 01:00 to 03:59, where the change of the clocks skips or repeats hours.',
  ),
  window: because('6h', 'from four in the morning it ends at ten, about when the editing day begins.'),
  reread: because(
    '60 d',
    'damage is found while another copy is most likely still good, and 20 TB at 200 MB/s take about half an hour a night so.',
  ),
  hashes: because(
    [] as ('c4' | 'md5' | 'sha1' | 'xxh128' | 'xxh3')[],
    'xxh64 is known to every reader of such lists and costs next to nothing; others are for whoever asks for them by name.',
  ),
};

export const NOTIFY_DEFAULTS = {
  severity: because('warning', 'a notice is worth reading when somebody looks, and not worth an interruption.'),
  quietSeverity: because('critical', 'who sleeps is woken only for what cannot wait until the morning.'),
};
