import type { VolumeSnapshot } from '../present/snapshot-volume.ts';
import type { VolumeState } from '../present/wording.ts';
import { type Family, familiesOf, type Labels, oneOf, type Row, statesOf, timestamp } from './family.ts';

const STATES = statesOf<VolumeState>({ starting: 1, live: 1, unknown: 1, hung: 1 });

/** What is known of each volume, whether it is there or not. */
const ALWAYS: readonly Row<VolumeSnapshot>[] = [
  {
    name: 'headroomd_volume_state',
    unit: null,
    help: 'The state of a working volume: 1 for the one it is in. unknown: it is not there.',
    of: ({ state }) => oneOf(STATES, state),
  },
  {
    name: 'headroomd_volume_exposed_bytes',
    unit: 'bytes',
    help: 'Footage with fewer verified copies than wanted, as last seen while the volume is away.',
    of: ({ safety }) => safety.exposedBytes,
  },
  {
    name: 'headroomd_volume_exposed_clips',
    unit: null,
    help: 'Clips with fewer verified copies than wanted.',
    of: ({ safety }) => safety.exposedClips,
  },
  {
    name: 'headroomd_volume_exposed_footage_seconds',
    unit: 'seconds',
    help: 'Running time of the clips with fewer verified copies than wanted.',
    of: ({ safety }) => safety.exposedSeconds,
  },
  {
    name: 'headroomd_volume_exposed_since_timestamp_seconds',
    unit: 'seconds',
    help: 'Since when the oldest of the exposed footage is there. Absent while nothing is exposed.',
    of: ({ safety }) => timestamp(safety.exposedSince),
  },
  {
    name: 'headroomd_volume_exposed_on_cards_bytes',
    unit: 'bytes',
    help: 'Of the exposed footage what lies on cards that a person said are kept. Nobody read it back there.',
    of: ({ safety }) => safety.onCardsBytes,
  },
  {
    name: 'headroomd_volume_last_verified_timestamp_seconds',
    unit: 'seconds',
    help: 'When a copy of its files was last read back.',
    of: ({ safety }) => timestamp(safety.lastVerifiedAt),
  },
  {
    name: 'headroomd_volume_next_backup_timestamp_seconds',
    unit: 'seconds',
    help: 'When its next backup begins, by what is known now.',
    of: ({ safety }) => timestamp(safety.nextBackupAt),
  },
  {
    name: 'headroomd_volume_backup_window_headroom_ratio',
    unit: 'ratio',
    help: 'Of the fullest backup window the part that is left over; below 0 when it does not fit.',
    of: ({ safety }) => safety.windowHeadroom,
  },
  {
    name: 'headroomd_volume_loss_chance_ratio',
    unit: 'ratio',
    help: 'That the whole volume is lost before its next backup has ended, with usual figures for drives. Yours may be worse.',
    of: ({ safety }) => safety.lossChance,
  },
];

/** What is measured of a volume that is there: of another the last figures would stand as if they were of now. */
const WHILE_THERE: readonly Row<VolumeSnapshot>[] = [
  {
    name: 'headroomd_volume_size_bytes',
    unit: 'bytes',
    help: 'All that the file system of a working volume holds.',
    of: ({ capacity }) => capacity.totalBytes,
  },
  {
    name: 'headroomd_volume_used_bytes',
    unit: 'bytes',
    help: 'What is in use.',
    of: ({ capacity }) => capacity.usedBytes,
  },
  {
    name: 'headroomd_volume_free_bytes',
    unit: 'bytes',
    help: 'What the file system has free, with what it holds back.',
    of: ({ capacity }) => capacity.freeBytes,
  },
  {
    name: 'headroomd_volume_available_bytes',
    unit: 'bytes',
    help: 'What can be written.',
    of: ({ capacity }) => capacity.availableBytes,
  },
  {
    name: 'headroomd_volume_reserve_bytes',
    unit: 'bytes',
    help: 'What is to be kept free.',
    of: ({ capacity }) => capacity.reserveBytes,
  },
  {
    name: 'headroomd_volume_room_bytes',
    unit: 'bytes',
    help: 'What can be written before the reserve is touched; negative when it is.',
    of: ({ capacity }) => capacity.roomBytes,
  },
  {
    name: 'headroomd_volume_footage_left_seconds',
    unit: 'seconds',
    help: 'How long the cameras that were there last can record until the reserve.',
    of: ({ capacity }) => capacity.footageSecondsLeft,
  },
  {
    name: 'headroomd_volume_overrun_timestamp_seconds',
    unit: 'seconds',
    help: 'When the reserve will be reached: low is the tenth, median the fiftieth, high the ninetieth case of a hundred.',
    of: ({ capacity: { overrun } }) => estimates(overrun?.at10, overrun?.at50, overrun?.at90),
  },
  {
    name: 'headroomd_volume_full_timestamp_seconds',
    unit: 'seconds',
    help: 'When nothing can be written any more, in the same cases.',
    of: ({ capacity: { overrun } }) => estimates(overrun?.fullAt10, overrun?.fullAt50, overrun?.fullAt90),
  },
  {
    name: 'headroomd_volume_overrun_chance_ratio',
    unit: 'ratio',
    help: 'That the reserve is reached within that time.',
    of: ({ capacity: { overrun } }) =>
      overrun === null || overrun.basis === 'not-enough-history'
        ? null
        : ([
            [{ within: '24h' }, overrun.within24h],
            [{ within: '72h' }, overrun.within72h],
            [{ within: '7d' }, overrun.within7d],
          ] as const),
  },
  {
    name: 'headroomd_volume_speed_budget_bytes_per_second',
    unit: 'bytes_per_second',
    help: 'What the volume may be asked for; the reserve is off.',
    of: ({ speed }) => directions(speed.readBudgetBps, speed.writeBudgetBps),
  },
  {
    name: 'headroomd_volume_speed_demand_bytes_per_second',
    unit: 'bytes_per_second',
    help: 'What is asked of it at the peak: the heaviest clips that are played together, with what goes on beside.',
    of: ({ speed }) => speed.demandBps,
  },
  {
    name: 'headroomd_volume_speed_ambient_bytes_per_second',
    unit: 'bytes_per_second',
    help: 'What goes on beside playback: card copies, renders, backups.',
    of: ({ speed }) => directions(speed.ambientReadBps, speed.ambientWriteBps),
  },
  {
    name: 'headroomd_volume_speed_headroom_ratio',
    unit: 'ratio',
    help: 'What of the budget is not asked for; below 0 when more is asked for than it gives.',
    of: ({ speed }) => speed.headroom,
  },
  {
    name: 'headroomd_volume_angles_left',
    unit: null,
    help: 'Further streams of the heaviest angle that still fit.',
    of: ({ speed }) => speed.anglesLeft,
  },
  {
    name: 'headroomd_volume_saturation_ratio',
    unit: 'ratio',
    help: 'What goes on now, playback among it, of all that the volume gives.',
    of: ({ speed }) => speed.load?.share,
  },
];

export function volumeFamilies(volumes: readonly VolumeSnapshot[]): Family[] {
  const labels = ({ name }: VolumeSnapshot): Labels => ({ volume: name });
  const there = volumes.filter(({ state, stale }) => state === 'starting' || (state === 'live' && !stale));
  return [layoutFamily(volumes), ...familiesOf(ALWAYS, volumes, labels), ...familiesOf(WHILE_THERE, there, labels)];
}

function layoutFamily(volumes: readonly VolumeSnapshot[]): Family {
  const samples = volumes.map(({ name, layout }) => {
    const { level, drive, fileSystem, basis } = layout;
    const known = Object.entries({ level, drive, file_system: fileSystem, basis }).flatMap(([key, value]) =>
      value === null ? [] : [[key, value]],
    );
    return { labels: { volume: name, ...Object.fromEntries(known) }, value: 1 };
  });
  const help = 'What a working volume lies on: its level, kind of drives, file system, and how that is known.';
  return { name: 'headroomd_volume', type: 'info', unit: null, help, samples };
}

function directions(read: number | null, write: number | null) {
  return [
    [{ direction: 'read' }, read],
    [{ direction: 'write' }, write],
  ] as const;
}

type Instants = string | null | undefined;

export function estimates(low: Instants, median: Instants, high: Instants) {
  return [
    [{ estimate: 'low' }, timestamp(low)],
    [{ estimate: 'median' }, timestamp(median)],
    [{ estimate: 'high' }, timestamp(high)],
  ] as const;
}
