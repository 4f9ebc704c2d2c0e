import {
  ARRIVAL_DEFAULTS as ARRIVAL,
  CARD_DEFAULTS as CARD,
  LOG_DEFAULTS as LOG,
  PAGE_DEFAULTS as PAGE,
  THRESHOLD_DEFAULTS as THRESHOLD,
} from './defaults.ts';
import { about, duration, flag, listOf, oneOf, path, share, table, wholeNumber } from './leaf.ts';

/** When an arrival counts as complete. */
export const arrivalsTable = table('an [arrivals] table', {
  quiet: duration('300 ms', '10 ms', '1 h')
    .prefault(ARRIVAL.quiet.value)
    .meta(about('No change for this long before anything is looked at.', ARRIVAL.quiet)),
  quiet_without_structure: duration('2 s', '10 ms', '1 h')
    .prefault(ARRIVAL.quietWithoutStructure.value)
    .meta(about('The same where the file itself cannot tell whether it is whole.', ARRIVAL.quietWithoutStructure)),
  quiet_remote: duration('30 s', '10 ms', '1 h')
    .prefault(ARRIVAL.quietRemote.value)
    .meta(about('The same on network mounts.', ARRIVAL.quietRemote)),
  stalled_after: duration('10 min', '1 s', '7 d')
    .prefault(ARRIVAL.stalledAfter.value)
    .meta(about('Incomplete and quiet for this long: the arrival is told as stalled.', ARRIVAL.stalledAfter)),
  sweep_every: duration('10 s', '1 s', '1 d')
    .prefault(ARRIVAL.sweepEvery.value)
    .meta(about('How often the times of all folders are looked at.', ARRIVAL.sweepEvery)),
  full_sweep_every: duration('15 min', '10 s', '7 d')
    .prefault(ARRIVAL.fullSweepEvery.value)
    .meta(about('How often every folder is read again.', ARRIVAL.fullSweepEvery)),
});

/** Mounted camera cards. */
export const cardsTable = table('a [cards] table', {
  look: flag('true or false').prefault(CARD.look.value).meta(about('Are mounted cards looked at?', CARD.look)),
  under: listOf(path('/media'), 'a list of folders, like ["/media"]')
    .prefault(CARD.under.value)
    .meta(about('Folders below which cards are mounted.', CARD.under)),
});

/** When something is told, and when it is over. */
export const thresholdsTable = table('a [thresholds] table', {
  speed_raise: share('100%', 0.01, 1, 'from 1% to 100%')
    .prefault(THRESHOLD.speedRaise.value)
    .meta(about('Speed demand, as a share of the budget, above which it is told.', THRESHOLD.speedRaise)),
  speed_clear: share('90%', 0, 1, 'below speed_raise')
    .prefault(THRESHOLD.speedClear.value)
    .meta(about('Below this share it is over.', THRESHOLD.speedClear)),
  raise_after: duration('20 s', '0 s', '1 d')
    .prefault(THRESHOLD.raiseAfter.value)
    .meta(about('How long it must hold before it is told.', THRESHOLD.raiseAfter)),
  clear_after: duration('60 s', '0 s', '1 d')
    .prefault(THRESHOLD.clearAfter.value)
    .meta(about('How long it must be over before it is taken back.', THRESHOLD.clearAfter)),
  session: duration('4h', '1 min', '1 d')
    .optional()
    .meta(about('Recording time of a working session: with less left on a volume it is told.')),
  wanted_copies: wholeNumber('a whole number of copies, 1 to 9', 1, 9)
    .optional()
    .meta({
      ...about('Verified copies wanted of each piece of footage, beside the working volume.', THRESHOLD.wantedCopies),
      default: THRESHOLD.wantedCopies.value,
    }),
});

/** The status page. */
export const pageTable = table('a [page] table', {
  enabled: flag('true or false').prefault(PAGE.enabled.value).meta(about('Is there a status page?', PAGE.enabled)),
  port: wholeNumber('a port from 0 to 65535 (0 takes a free one)', 0, 65_535)
    .prefault(PAGE.port.value)
    .meta(about('Its port on loopback.', PAGE.port)),
  metrics: flag('true or false')
    .prefault(PAGE.metrics.value)
    .meta(about('Are metrics told at /metrics without the token of the page?', PAGE.metrics)),
});

/** The log. */
export const logTable = table('a [log] table', {
  level: oneOf(['debug', 'info', 'warn', 'error'])
    .prefault(LOG.level.value)
    .meta(about('How much is logged.', LOG.level)),
});
