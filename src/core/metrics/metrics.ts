import type { LoopHealth } from '../health.ts';
import type { PlainAnswer } from '../plain-answer.ts';
import type { Snapshot } from '../present/snapshot.ts';
import { formatFor } from './accept.ts';
import { backupFamilies, type LastSuccess } from './backup-families.ts';
import { daemonFamilies, type ProbeFigures, type ProcessFigures } from './daemon-families.ts';
import { exposition, MEDIA_TYPES } from './exposition.ts';
import { type Family, timestamp } from './family.ts';
import { noticeFamilies } from './notice-families.ts';
import { projectFamilies } from './project-families.ts';
import { volumeFamilies } from './volume-families.ts';

/** What metrics are told from. Every name is safe to show. */
export interface MetricsSource {
  snapshot: Snapshot;
  successes: readonly LastSuccess[];
  process: ProcessFigures;
  loops: readonly LoopHealth[];
  probes: readonly ProbeFigures[];
}

/** All metrics, in the format that the `Accept` header prefers. No file, clip, card or serial number is named in them. */
export function metricsAnswer(source: MetricsSource, accept: string | undefined): PlainAnswer {
  const format = formatFor(accept);
  return { status: 200, type: MEDIA_TYPES[format], body: exposition(metricFamilies(source), format) };
}

function metricFamilies({ snapshot, successes, process, loops, probes }: MetricsSource): Family[] {
  const { volumes, projects, backups, shelves, commands } = snapshot;
  return [
    {
      ...{ name: 'headroomd_build', type: 'info', unit: null, help: 'The version of headroomd.' },
      samples: [{ labels: { version: snapshot.version }, value: 1 }],
    },
    {
      ...{ name: 'headroomd_assessed_timestamp_seconds', type: 'gauge', unit: 'seconds' },
      help: 'When the figures of volumes, projects, arrivals, backups and advisories were worked out.',
      samples: [{ labels: {}, value: timestamp(snapshot.at) ?? 0 }],
    },
    ...volumeFamilies(volumes),
    ...projectFamilies(
      projects,
      volumes.map(({ name }) => name),
    ),
    ...noticeFamilies(snapshot),
    ...backupFamilies(backups, shelves, commands, successes),
    ...daemonFamilies(process, loops, probes),
  ];
}
