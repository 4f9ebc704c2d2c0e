import { type MetricsSource, metricsAnswer } from '../../../src/core/metrics/metrics.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { CONTEXT } from '../present/hostile.ts';
import { NOON, sampleAssessment } from '../samples.ts';

/** Of a daemon that has just been started, over one volume. */
export function metricsSource(over: Partial<MetricsSource>): MetricsSource {
  return {
    snapshot: snapshot(sampleAssessment(), [], CONTEXT),
    ...{ successes: [], loops: [], probes: [] },
    process: {
      ...{ startedAt: NOON / 1000, cpuSeconds: 1.5, residentBytes: 9e7, heapUsedBytes: 2e7, openFiles: 30 },
      ...{ activeResources: 9, loopBusySeconds: 0.5, loopDelay: { p50: 0, p99: 0.01, max: 0.25 } },
    },
    ...over,
  };
}

/** Each series as it is written, with its value. */
export function series(source: MetricsSource): Record<string, number> {
  const lines = metricsAnswer(source, undefined)
    .body.split('\n')
    .filter((line) => line !== '' && !line.startsWith('#'));
  return Object.fromEntries(
    lines.map((line) => [line.slice(0, line.lastIndexOf(' ')), Number(line.slice(line.lastIndexOf(' ') + 1))]),
  );
}
