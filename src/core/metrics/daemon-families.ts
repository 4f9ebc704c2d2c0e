import type { LoopHealth } from '../health.ts';
import type { ProbeOutcome } from '../root-port.ts';
import { type Family, familiesOf, type Labels, type Row, statesOf } from './family.ts';

/** What the daemon's main process uses. Instants and times are seconds. */
export interface ProcessFigures {
  startedAt: number;
  cpuSeconds: number;
  residentBytes: number;
  heapUsedBytes: number;
  /** `null`: the system does not tell. */
  openFiles: number | null;
  /** Timers, sockets, processes and whatever else keeps it awake. */
  activeResources: number;
  /** How long its event loop was busy since the start. */
  loopBusySeconds: number;
  /** How late the event loop was in the last whole minute; `null`: none is over, or that is not watched. */
  loopDelay: { p50: number; p99: number; max: number } | null;
}

/** How a reading of a clip ended; `no-answer`: its volume went away meanwhile. */
export type ProbeEnd = 'ok' | Extract<ProbeOutcome, { ok: false }>['reason'] | 'no-answer';

/** Readings of clips since the start, on one volume. */
export interface ProbeFigures {
  volume: string;
  ends: Readonly<Record<ProbeEnd, number>>;
  seconds: number;
}

export const PROBE_ENDS = statesOf<ProbeEnd>({
  ...{ ok: 1, unreadable: 1, 'probe-failed': 1, 'not-media': 1, 'changed-meanwhile': 1, 'no-answer': 1 },
});

const PROCESS_ROWS: readonly Row<ProcessFigures>[] = [
  {
    name: 'headroomd_process_start_timestamp_seconds',
    unit: 'seconds',
    help: 'When the daemon was started.',
    of: ({ startedAt }) => startedAt,
  },
  {
    name: 'headroomd_process_cpu_seconds',
    type: 'counter',
    unit: 'seconds',
    help: 'Processor time of its main process, the processes that watch volumes and copy not among it.',
    of: ({ cpuSeconds }) => cpuSeconds,
  },
  {
    name: 'headroomd_process_resident_memory_bytes',
    unit: 'bytes',
    help: 'Memory of its main process.',
    of: ({ residentBytes }) => residentBytes,
  },
  {
    name: 'headroomd_process_heap_used_bytes',
    unit: 'bytes',
    help: 'Of that, what its objects take.',
    of: ({ heapUsedBytes }) => heapUsedBytes,
  },
  {
    name: 'headroomd_process_open_handles',
    unit: null,
    help: 'Open file descriptors of its main process.',
    of: ({ openFiles }) => openFiles,
  },
  {
    name: 'headroomd_process_active_resources',
    unit: null,
    help: 'Timers, sockets, processes and whatever else keeps it awake.',
    of: ({ activeResources }) => activeResources,
  },
  {
    name: 'headroomd_event_loop_busy_seconds',
    type: 'counter',
    unit: 'seconds',
    help: 'How long its event loop had something to do.',
    of: ({ loopBusySeconds }) => loopBusySeconds,
  },
  {
    name: 'headroomd_event_loop_delay_seconds',
    type: 'summary',
    unit: 'seconds',
    help: 'How late the event loop was in the last whole minute; quantile 1 is the worst.',
    of: ({ loopDelay }) =>
      loopDelay === null
        ? null
        : [
            [{ quantile: '0.5' }, loopDelay.p50],
            [{ quantile: '0.99' }, loopDelay.p99],
            [{ quantile: '1' }, loopDelay.max],
          ],
  },
];

const LOOP_ROWS: readonly Row<LoopHealth>[] = [
  {
    name: 'headroomd_loop_moved_timestamp_seconds',
    unit: 'seconds',
    help: 'When a part of the daemon moved last. One that has nothing to do does not move.',
    of: ({ movedAt }) => movedAt / 1000,
  },
  {
    name: 'headroomd_loop_patience_seconds',
    unit: 'seconds',
    help: 'It moves at least this often while it is well and has something to do.',
    of: ({ patienceSeconds }) => patienceSeconds,
  },
  {
    name: 'headroomd_loop_stands_still',
    unit: null,
    help: '1 when it has not moved within its patience. outside: starting headroomd again would not help.',
    of: ({ standsStill, isOutside }) => [[{ outside: String(isOutside) }, Number(standsStill)]],
  },
  {
    name: 'headroomd_loop_queue_length',
    unit: null,
    help: 'What waits for it, and what it is at. Absent for a part that moves by itself.',
    of: ({ waiting }) => waiting,
  },
];

const PROBE_ROWS: readonly Row<ProbeFigures>[] = [
  {
    name: 'headroomd_probes',
    type: 'counter',
    unit: null,
    help: 'Clips that were read, by how that ended.',
    of: ({ ends }) => PROBE_ENDS.map((outcome) => [{ outcome }, ends[outcome]] as const),
  },
  {
    name: 'headroomd_probe_seconds',
    type: 'counter',
    unit: 'seconds',
    help: 'How long reading them took, waiting among it.',
    of: ({ seconds }) => seconds,
  },
];

/** What the daemon tells of itself. */
export function daemonFamilies(
  process: ProcessFigures,
  loops: readonly LoopHealth[],
  probes: readonly ProbeFigures[],
): Family[] {
  const loopLabels = ({ loop, of }: LoopHealth): Labels => ({ loop, ...(of === null ? {} : { of }) });
  return [
    ...familiesOf(PROCESS_ROWS, [process], () => ({})),
    ...familiesOf(LOOP_ROWS, loops, loopLabels),
    ...familiesOf(PROBE_ROWS, probes, ({ volume }) => ({ volume })),
  ];
}
