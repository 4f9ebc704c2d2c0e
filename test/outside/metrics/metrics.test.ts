import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type MetricsSource, metricsAnswer } from '../../../src/core/metrics/metrics.ts';
import { metricsSource, series } from '../../core/metrics/exposed.ts';
import { hostileShapes, snapshotOf } from '../../core/present/hostile.ts';
import { parsed, promtool } from './tools.ts';

/** Outside: the parsers of prometheus_client (Python, the reference for OpenMetrics) and promtool of Prometheus, both from Debian. */
const OPENMETRICS = 'application/openmetrics-text';

const hostile: MetricsSource[] = fc.sample(hostileShapes(), 150).map((shape) => {
  const [name = '', other = ''] = shape.names;
  const loop = { of: name, waiting: 1, isOutside: false, movedAt: 0, patienceSeconds: 1, standsStill: true };
  return metricsSource({
    snapshot: snapshotOf(shape),
    loops: [{ ...loop, loop: 'intake' }],
    successes: [
      { volume: name, shelf: other, at: 1 },
      { volume: name, shelf: other, at: 2 },
    ],
  });
});

describe('expositions read by parsers of others', () => {
  test('whatever names there are, both formats are valid and give back every name and value', () => {
    const texts = hostile.flatMap((source) => [
      { format: 'openmetrics' as const, text: metricsAnswer(source, OPENMETRICS).body },
      { format: 'text' as const, text: metricsAnswer(source, undefined).body },
    ]);
    const found = parsed(texts);
    for (const [index, source] of hostile.entries()) {
      const [strict = [], older = []] = found.slice(2 * index, 2 * index + 2);
      const samples = (families: typeof strict) =>
        families.flatMap((family) => family.samples.map(({ name, labels, value }) => [name, labels, value]));
      expect(samples(strict)).toHaveLength(Object.keys(series(source)).length);
      expect(samples(older)).toEqual(samples(strict));
      const names = new Set(source.snapshot.projects.map(({ name }) => name));
      const told = strict.find(({ name }) => name === 'headroomd_project_clips')?.samples ?? [];
      for (const { labels } of told)
        expect(names.has(labels['project'] ?? '') || labels['project'] === '(others)').toBe(true);
    }
  });

  test('names, types and units are as OpenMetrics wants them', () => {
    const [families = []] = parsed([
      { format: 'openmetrics', text: metricsAnswer(metricsSource({}), OPENMETRICS).body },
    ]);
    expect(families.length).toBeGreaterThan(25);
    for (const { name, unit, help, type } of families) {
      expect(name).toMatch(/^headroomd_[a-z_]+$/);
      expect(help).toMatch(/^[A-Z].*\.$/s);
      expect(['gauge', 'counter', 'info', 'summary']).toContain(type);
      if (/_(bytes|seconds|ratio)$|_bytes_per_second$/.test(name)) expect(name.endsWith(`_${unit}`), name).toBe(true);
    }
  });

  test('promtool finds nothing to say of names and units', () => {
    expect(promtool(['check', 'metrics'], metricsAnswer(metricsSource({}), undefined).body)).toBe('');
    // That it would say something.
    expect(() => promtool(['check', 'metrics'], '# TYPE a_milliseconds counter\na_milliseconds 1\n')).toThrow(
      'a_milliseconds',
    );
  });
});

describe('config/metrics', () => {
  const folder = fileURLToPath(new URL('../../../config/metrics', import.meta.url));

  test('every file of it is checked here', () => {
    expect(readdirSync(folder).sort()).toEqual([
      ...['collector.yml', 'headroomd.html', 'rules.yml', 'workstation.yml'],
    ]);
  });

  test('promtool takes the configurations and the rules', () => {
    expect(promtool(['check', 'config', `${folder}/collector.yml`])).toContain('8 rules found');
    expect(promtool(['check', 'config', '--agent', `${folder}/workstation.yml`])).toContain('is valid');
    expect(promtool(['check', 'rules', `${folder}/rules.yml`])).toContain('8 rules found');
  });

  test('each rule speaks when it should, and is silent else', () => {
    const tests = fileURLToPath(new URL('./rules.test.yml', import.meta.url));
    expect(promtool(['test', 'rules', tests])).toContain('SUCCESS');
  });
});
