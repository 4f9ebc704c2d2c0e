import type { AdvisoryKind } from '../advise/advisory.ts';
import type { ArrivalReason, Severity, UnitStage } from '../model.ts';
import type { RootState } from '../root-port.ts';
import type { ProjectSum } from '../store-ports.ts';

/** What a reason means to a person, and what to do about it (whole sentences; `null`: nothing, it goes on by itself). */
export interface ReasonWords {
  means: string;
  todo: string | null;
}

const COPY_AGAIN = 'Copy it again from its source, and keep the card.';

/** One entry for every reason of the closed set; the type sees to that. */
export const ARRIVAL_WORDS: Record<ArrivalReason, ReasonWords> = {
  growing: { means: 'it is still growing', todo: null },
  'open-for-writing': { means: 'a program still has it open for writing', todo: null },
  'not-quiet-yet': { means: 'it changed a moment ago', todo: null },
  'waits-for-rename': {
    means: 'its name is still a temporary one; the copy gives it its real name at the end',
    todo: null,
  },
  incomplete: { means: 'its own structure says that bytes are missing', todo: COPY_AGAIN },
  unwritten: { means: 'room was reserved for it, but its content is still empty', todo: COPY_AGAIN },
  'being-read': { means: 'it is being read', todo: null },
  complete: { means: 'it is whole and nothing writes to it', todo: null },
  'complete-by-quiet': { means: 'nothing has changed for a while; its kind of file cannot tell more', todo: null },
  empty: { means: 'it has no bytes at all', todo: COPY_AGAIN },
  'not-media': {
    means: 'its name says media, its content does not',
    todo: 'Look what it is. If it should be a clip, copy it again from its source, and keep the card.',
  },
  unreadable: {
    means: 'it cannot be read',
    todo: 'Check its permissions and the drive. Keep the card until it can be read.',
  },
  'probe-failed': {
    means: 'reading its headers failed',
    todo: 'Try whether it plays. If not, copy it again from its source; keep the card in any case.',
  },
  'changed-meanwhile': { means: 'it changed while it was read, and will be read again', todo: null },
};

/** How the stages of an arrival are called. */
export const STAGE_WORDS: Record<UnitStage, string> = {
  copying: 'copying',
  settling: 'waiting',
  probing: 'being read',
  ready: 'ready',
  stalled: 'stopped',
  refused: 'refused',
};

/** A root's state as the snapshot calls it: a volume that is not there is not empty, it is unknown. */
export type VolumeState = 'starting' | 'live' | 'unknown' | 'hung';

export const VOLUME_STATES: Record<RootState, VolumeState> = {
  starting: 'starting',
  live: 'live',
  absent: 'unknown',
  hung: 'hung',
};

/** What a volume's state means, said where it is not live. */
export const VOLUME_STATE_WORDS: Record<VolumeState, string | null> = {
  starting: 'Its folders are being read for the first time; figures are still growing.',
  live: null,
  unknown: 'It is not there now. What was known of it is kept, not checked. Connect it again.',
  hung: 'It does not answer. What was known of it is kept, not checked. Check cable, network and server.',
};

/** Where bytes lie that belong to no project. */
export const AREA_WORDS: Record<ProjectSum['area'], string> = {
  project: 'in projects',
  shared: 'shared between projects',
  unassigned: 'not assigned to any',
  trash: 'in the trash',
};

/** RFC 5424 words as a heading. */
export const SEVERITY_WORDS: Record<Severity, string> = {
  critical: 'CRITICAL',
  warning: 'WARNING',
  notice: 'NOTICE',
};

/** What is said when an advisory is over. `subject`: a volume, or `volume/path`. */
export const CLEARED_WORDS: Record<AdvisoryKind, (subject: string) => string> = {
  'state-refused': () => "headroomd's own state can be written again.",
  'state-disk-low': (path) => `There is room for headroomd's own state again (${path}).`,
  'volume-absent': (volume) => `${volume} is there again.`,
  'volume-read-only': (volume) => `${volume} can be written again.`,
  'shelf-read-only': (shelf) => `${shelf} can be written again.`,
  'footage-time': (volume) =>
    `${volume} has room for a working session of recording again, or no shoot goes on there any more.`,
  'capacity-reserve': (volume) => `${volume} has room above its reserve again.`,
  'capacity-overrun': (volume) =>
    `${volume}: its reserve is not likely to be reached within three days any more, or it is reached.`,
  'copy-differs': (pair) => `${pair}: the copies that were read again are what was written.`,
  'list-differs': (list) =>
    `${list}: what arrived is what the list says, as far as it was compared, or the list is no longer waited for.`,
  'backup-failed': (pair) => `${pair}: a backup went well again.`,
  'shelf-absent': (pair) => `${pair}: the shelf is there again, or lacks nothing of it.`,
  'backup-missed': (pair) => `${pair}: the backup of that night was made up for, or there is nothing left to copy.`,
  'footage-exposed': (volume) => `${volume}: no footage is without its verified copies for long any more.`,
  'backup-window': (volume) => `${volume}: what is left to copy fits the window of its night.`,
  'shelf-filling': (shelf) => `${shelf} has room again for what is left to copy, and for a week to come.`,
  'single-shelf': (volume) => `${volume}: its shelves lie on different drives now, or it has none any more.`,
  'plan-missed': (project) => `${project}: its plan was changed, or footage came.`,
  'array-degraded': (volume) => `${volume}: its array is whole again.`,
  'drive-failing': (drive) =>
    `${drive}: the sign is gone, or the drive is. A drive that has failed once may do so again.`,
  'layout-contradiction': (volume) => `${volume}: what is declared of its layout and what is seen agree now.`,
  'volume-slow': (volume) =>
    `${volume} was measured to give about what its layout lets expect, or is put together otherwise now.`,
  'watch-limit': (limit) => `The limit of ${limit} suffices again: every folder is watched.`,
  'clock-jump': (clock) => `The ${clock} has run on evenly since, as far as was seen.`,
  'volume-busy': (volume) => `${volume} has room for playback again: what else went on there takes less.`,
  'speed-overrun': (volume) => `${volume} can give what is asked of it again.`,
  'card-incomplete': (card) =>
    `Card or list ${card}: its footage is here by name and size, its card is in again, its list tells what lacks, or it is no longer waited for. Contents were not compared: keep the card until verified copies exist.`,
  'take-incomplete': (project) =>
    `${project}: parts or frames that its takes lacked are here now, or the takes are gone.`,
  'clip-undecoded': (project) => `${project}: its clips that could not be read can be read now, or are gone.`,
  'take-differs': (project) => `${project}: no take lies there twice and differs any more, as far as is known.`,
  'mixed-rates': (project) => `${project}: the cameras of its multicam groups run at one frame rate each time.`,
  'arrival-stalled': (path) => `${path}: its copy goes on, is whole now, or was taken away.`,
  'arrival-refused': (path) => `${path}: it is looked at again, is good now, or was taken away.`,
};
