import type { Snapshot } from '../../src/core/present/snapshot.ts';

export type Expected = [labels: Record<string, string>, value: number | null | undefined][];

const seconds = (iso: string | null | undefined) => (iso == null ? null : Date.parse(iso) / 1000);
const states = (all: readonly string[], now: string | null): Expected =>
  now === null ? [] : all.map((state) => [{ state }, state === now ? 1 : 0]);
const each = <Item>(
  items: readonly Item[],
  labels: (item: Item) => Record<string, string>,
  value: (item: Item) => number | null | undefined | Expected,
): Expected =>
  items.flatMap((item): Expected => {
    const told = value(item);
    const one = labels(item);
    return Array.isArray(told) ? told.map(([more, figure]) => [{ ...one, ...more }, figure]) : [[one, told]];
  });

const RUN_STATES = ['looking', 'copying', 'paused', 're-reading', 'done', 'stopped', 'broken', 'refused'];

/** By hand: each metric, and what the snapshot tells of it. */
export function expectedOf(snapshot: Snapshot): Record<string, Expected> {
  const { volumes, projects, arrivals, arrivalTotals, cards, advisories } = snapshot;
  const shelves = snapshot.shelves;
  const runs = snapshot.backups.filter(({ reason }) => reason !== 'project-files');
  const volume = (of: (one: Snapshot['volumes'][number]) => number | null | undefined | Expected) =>
    each(volumes, ({ name }) => ({ volume: name }), of);
  const project = (of: (one: Snapshot['projects'][number]) => number | null) =>
    each(projects, ({ name, volume: on }) => ({ volume: on, project: name }), of);
  const run = (of: (one: Snapshot['backups'][number]) => number | null | Expected) =>
    each(runs, ({ volume: on, shelf }) => ({ volume: on, shelf }), of);
  const shelf = (of: (one: Snapshot['shelves'][number]) => number | null | Expected) =>
    each(shelves, ({ name }) => ({ shelf: name }), of);
  const halted = (stage: string) => arrivals.filter(({ state }) => state === stage).length;
  return {
    headroomd_build: [[{ version: snapshot.version }, 1]],
    headroomd_assessed_timestamp_seconds: [[{}, seconds(snapshot.at)]],
    headroomd_volume: volume(({ layout: { level, drive, fileSystem, basis } }) => [
      [
        {
          ...(level === null ? {} : { level }),
          ...(drive === null ? {} : { drive }),
          ...(fileSystem === null ? {} : { file_system: fileSystem }),
          ...(basis === null ? {} : { basis }),
        },
        1,
      ],
    ]),
    headroomd_volume_state: volume(({ state }) => states(['starting', 'live', 'unknown', 'hung'], state)),
    headroomd_volume_exposed_bytes: volume(({ safety }) => safety.exposedBytes),
    headroomd_volume_exposed_clips: volume(({ safety }) => safety.exposedClips),
    headroomd_volume_exposed_footage_seconds: volume(({ safety }) => safety.exposedSeconds),
    headroomd_volume_exposed_since_timestamp_seconds: volume(({ safety }) => seconds(safety.exposedSince)),
    headroomd_volume_exposed_on_cards_bytes: volume(({ safety }) => safety.onCardsBytes),
    headroomd_volume_last_verified_timestamp_seconds: volume(({ safety }) => seconds(safety.lastVerifiedAt)),
    headroomd_volume_next_backup_timestamp_seconds: volume(({ safety }) => seconds(safety.nextBackupAt)),
    headroomd_volume_backup_window_headroom_ratio: volume(({ safety }) => safety.windowHeadroom),
    headroomd_volume_loss_chance_ratio: volume(({ safety }) => safety.lossChance),
    headroomd_volume_size_bytes: volume(({ capacity }) => capacity.totalBytes),
    headroomd_volume_used_bytes: volume(({ capacity }) => capacity.usedBytes),
    headroomd_volume_free_bytes: volume(({ capacity }) => capacity.freeBytes),
    headroomd_volume_available_bytes: volume(({ capacity }) => capacity.availableBytes),
    headroomd_volume_reserve_bytes: volume(({ capacity }) => capacity.reserveBytes),
    headroomd_volume_room_bytes: volume(({ capacity }) => capacity.roomBytes),
    headroomd_volume_footage_left_seconds: volume(({ capacity }) => capacity.footageSecondsLeft),
    headroomd_volume_speed_budget_bytes_per_second: volume(({ speed }) => [
      [{ direction: 'read' }, speed.readBudgetBps],
      [{ direction: 'write' }, speed.writeBudgetBps],
    ]),
    headroomd_volume_speed_demand_bytes_per_second: volume(({ speed }) => speed.demandBps),
    headroomd_volume_speed_ambient_bytes_per_second: volume(({ speed }) => [
      [{ direction: 'read' }, speed.ambientReadBps],
      [{ direction: 'write' }, speed.ambientWriteBps],
    ]),
    headroomd_volume_speed_headroom_ratio: volume(({ speed }) => speed.headroom),
    headroomd_volume_angles_left: volume(({ speed }) => speed.anglesLeft),
    headroomd_volume_saturation_ratio: volume(({ speed }) => speed.load?.share ?? null),
    headroomd_project_size_bytes: project(({ bytes }) => bytes),
    headroomd_project_footage_bytes: project(({ footageBytes }) => footageBytes),
    headroomd_project_clips: project(({ clips }) => clips),
    headroomd_project_footage_seconds: project(({ durationSeconds }) => durationSeconds),
    headroomd_project_exposed_bytes: project(({ safety }) => safety.exposedBytes),
    headroomd_project_exposed_clips: project(({ safety }) => safety.exposedClips),
    headroomd_project_only_on_shelf_bytes: project(({ safety }) => safety.onlyOnShelf),
    headroomd_projects_folded: volume(() => 0),
    headroomd_arrivals: [
      [{ state: 'moving' }, arrivalTotals.pending - halted('stalled') - halted('refused')],
      [{ state: 'stalled' }, halted('stalled')],
      [{ state: 'refused' }, halted('refused')],
    ],
    headroomd_arrivals_bytes: [[{}, arrivalTotals.bytes]],
    headroomd_cards: ['mounted', 'gone', 'manifest'].map((state) => [
      { state },
      cards.filter((card) => card.state === state).length,
    ]),
    headroomd_cards_missing_footage_files: [[{}, cards.reduce((sum, card) => sum + card.missingFootage, 0)]],
    headroomd_backup_run_state: run(({ state }) => states(RUN_STATES, state)),
    headroomd_backup_run_started_timestamp_seconds: run(({ startedAt }) => seconds(startedAt)),
    headroomd_backup_run_ended_timestamp_seconds: run(({ endedAt }) => seconds(endedAt)),
    headroomd_backup_run_wanted_files: run(({ wantedFiles }) => wantedFiles),
    headroomd_backup_run_wanted_bytes: run(({ wantedBytes }) => wantedBytes),
    headroomd_backup_run_files: run(({ files }) => files),
    headroomd_backup_run_bytes: run(({ bytes }) => bytes),
    headroomd_backup_run_verified_bytes: run(({ verifiedBytes }) => verifiedBytes),
    headroomd_backup_run_failed_files: run(({ failures }) => failures),
    headroomd_shelf_ready: shelf(({ state }) => Number(state === 'ready')),
    headroomd_shelf_last_seen_timestamp_seconds: shelf(({ lastSeen }) => seconds(lastSeen)),
    headroomd_shelf_size_bytes: shelf(({ totalBytes }) => totalBytes),
    headroomd_shelf_free_bytes: shelf(({ freeBytes }) => freeBytes),
    headroomd_shelf_backlog_bytes: shelf(({ lacksBytes }) => lacksBytes),
    headroomd_shelf_copies_files: shelf(({ copies }) => [
      [{ copies: 'all' }, copies.files],
      [{ copies: 'verified' }, copies.verifiedFiles],
      [{ copies: 'differing' }, copies.differing],
      [{ copies: 'unread' }, copies.unread],
      [{ copies: 'overdue' }, copies.overdueFiles],
    ]),
    headroomd_shelf_copies_bytes: shelf(({ copies }) => copies.bytes),
    headroomd_shelf_oldest_read_timestamp_seconds: shelf(({ oldestReadAt }) => seconds(oldestReadAt)),
    headroomd_backup_last_success_timestamp_seconds: run(({ state, endedAt }) =>
      state === 'done' ? seconds(endedAt) : null,
    ),
    // Those that are raised; of all others it is told that they are not.
    headroomd_advisories: advisories.map(({ kind, severity }) => [{ kind, severity }, 1]),
    headroomd_advisories_snoozed: ['notice', 'warning', 'critical'].map((severity) => [{ severity }, 0]),
  };
}
