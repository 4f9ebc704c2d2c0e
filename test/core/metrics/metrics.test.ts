import { describe, expect, test } from 'vitest';
import { type MetricsSource, metricsAnswer } from '../../../src/core/metrics/metrics.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { SAMPLE_CARD, sampleCard } from '../card-samples.ts';
import { CONTEXT } from '../present/hostile.ts';
import {
  NOON,
  NOTHING_MADE,
  SECOND,
  sampleArrival,
  sampleAssessment,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';
import { metricsSource, series } from './exposed.ts';

const project = (name: string, bytes: number, volume = 'stripe') => ({
  ...{ ...NOTHING_MADE, multicam: [sampleGroup()] },
  sum: sampleSum({ volume, project: name, bytes, footageBytes: bytes / 2, clips: 2, durationSeconds: 10 }),
});

const told = (over: Parameters<typeof sampleAssessment>[0], more: Partial<MetricsSource> = {}) =>
  series(metricsSource({ snapshot: snapshot(sampleAssessment(over), [], CONTEXT), ...more }));

describe('metrics of volumes', () => {
  test('of one that is there all that is known is told, in base units', () => {
    const all = told({});
    expect(all['headroomd_volume_size_bytes{volume="stripe"}']).toBe(4e12);
    expect(all['headroomd_volume_used_bytes{volume="stripe"}']).toBe(3e12);
    expect(all['headroomd_volume_room_bytes{volume="stripe"}']).toBe(6e11);
    expect(all['headroomd_volume_speed_budget_bytes_per_second{volume="stripe",direction="write"}']).toBe(350e6);
    expect(all['headroomd_volume_speed_demand_bytes_per_second{volume="stripe"}']).toBe(300e6);
    expect(
      all['headroomd_volume_info{volume="stripe",level="0",drive="nvme",file_system="ext4",basis="declared"}'],
    ).toBe(1);
    expect(all['headroomd_assessed_timestamp_seconds']).toBe(NOON / 1000);
  });

  test.each(['absent', 'hung'] as const)(
    'of one that is %s the last figures are not told as if they were of now',
    (state) => {
      const all = told({ volumes: [sampleVolume({ state, stale: true })] });
      const names = Object.keys(all).filter((name) => name.startsWith('headroomd_volume_'));
      expect(names.map((name) => name.replace(/\{.*/, ''))).toEqual([
        'headroomd_volume_info',
        ...Array.from({ length: 4 }, () => 'headroomd_volume_state'),
        ...[
          'headroomd_volume_exposed_bytes',
          'headroomd_volume_exposed_clips',
          'headroomd_volume_exposed_footage_seconds',
        ],
      ]);
      expect(all[`headroomd_volume_state{volume="stripe",state="${state === 'hung' ? 'hung' : 'unknown'}"}`]).toBe(1);
      expect(all['headroomd_volume_state{volume="stripe",state="live"}']).toBe(0);
    },
  );

  test('what is not known is absent: no 0, no NaN', () => {
    const speed = { ...sampleVolume().speed, readBudgetBps: null, demandBps: null, headroom: null };
    const all = told({ volumes: [sampleVolume({ speed, capacity: null, safety: null })] });
    const names = Object.keys(all)
      .filter((name) => name.startsWith('headroomd_volume'))
      .join('\n');
    for (const part of [
      'capacity',
      'exposed',
      'demand',
      '_headroom_',
      'saturation',
      'direction="read"',
      'loss',
      'overrun',
    ])
      expect(names, part).not.toContain(part);
    expect(names).toContain('direction="write"');
  });

  test('the dates of a forecast and its chances; with too little history neither', () => {
    const reserve = { at10: 1, at50: 2, at90: null, within24h: 0.1, within72h: 0.75, within7d: 0.8 };
    const forecast = {
      ...{ at: NOON, basis: 'shoot-days-seen' as const, shootDays: 9, shootDayBytes: 1e11, planned: false },
      ...{ reserve, full: null, withoutPlan: null, band: null, history: [], notHappening: [] },
    };
    const all = told({ volumes: [sampleVolume({ forecast })] });
    const day = 86_400;
    expect(all['headroomd_volume_overrun_timestamp_seconds{volume="stripe",estimate="low"}']).toBe(NOON / 1000 + day);
    expect(all['headroomd_volume_overrun_timestamp_seconds{volume="stripe",estimate="median"}']).toBe(
      NOON / 1000 + 2 * day,
    );
    expect(all).not.toHaveProperty(['headroomd_volume_overrun_timestamp_seconds{volume="stripe",estimate="high"}']);
    expect(all['headroomd_volume_overrun_chance_ratio{volume="stripe",within="72h"}']).toBe(0.75);
    const early = told({
      volumes: [sampleVolume({ forecast: { ...forecast, basis: 'not-enough-history', reserve: null } })],
    });
    expect(Object.keys(early).filter((name) => name.startsWith('headroomd_volume_overrun'))).toEqual([]);
  });
});

describe('metrics of projects', () => {
  test('the hundred largest have their names; of the others nothing is lost, and it is said how many they are', () => {
    const many = Array.from({ length: 130 }, (_, index) => project(`Saltmarsh ${index}`, 1e9 * (index + 1)));
    const all = told({
      projects: [...many, project('Lock Keepers', 1e6, 'second')],
      volumes: [sampleVolume(), sampleVolume({ name: 'second' })],
    });
    const sizes = Object.entries(all).filter(([name]) => name.startsWith('headroomd_project_size_bytes'));
    expect(sizes).toHaveLength(102);
    expect(all['headroomd_project_size_bytes{volume="stripe",project="Saltmarsh 129"}']).toBe(130e9);
    expect(all).not.toHaveProperty(['headroomd_project_size_bytes{volume="stripe",project="Saltmarsh 29"}']);
    expect(all['headroomd_project_size_bytes{volume="stripe",project="(others)"}']).toBe(1e9 * ((30 * 31) / 2));
    expect(all['headroomd_project_clips{volume="stripe",project="(others)"}']).toBe(60);
    expect(all['headroomd_project_footage_seconds{volume="stripe",project="(others)"}']).toBe(300);
    expect(all['headroomd_projects_folded{volume="stripe"}']).toBe(30);
    expect(all['headroomd_projects_folded{volume="second"}']).toBe(1);
    expect(sizes.reduce((sum, [, value]) => sum + value, 0)).toBe(1e9 * ((130 * 131) / 2) + 1e6);
  });

  test('one that is called as the others are, or reads like another once escaped, is among the others', () => {
    const all = told({ projects: [project('(others)', 5), project('a\nb', 7), project('a\\nb', 9)] });
    expect(all['headroomd_project_size_bytes{volume="stripe",project="a\\\\nb"}']).toBe(9);
    expect(all['headroomd_project_size_bytes{volume="stripe",project="(others)"}']).toBe(12);
    expect(all['headroomd_projects_folded{volume="stripe"}']).toBe(2);
  });

  test('exposure of the others is told only when it is known of each', () => {
    const unknown = { ...project('(others)', 5), sum: sampleSum({ project: '(others)', exposed: null }) };
    const all = told({ projects: [unknown, project('Saltmarsh', 7)] });
    expect(all).not.toHaveProperty(['headroomd_project_exposed_bytes{volume="stripe",project="(others)"}']);
    expect(all['headroomd_project_exposed_bytes{volume="stripe",project="Saltmarsh"}']).toBe(0);
  });
});

describe('metrics of the rest', () => {
  test('arrivals by state: halted ones are told one by one, the others are the rest of the sum', () => {
    const arrivals = [
      sampleArrival({ stage: 'stalled' }),
      sampleArrival({ stage: 'refused' }),
      sampleArrival({ stage: 'refused' }),
      sampleArrival(),
      sampleArrival({ stage: 'ready' }),
    ];
    const all = series(
      metricsSource({
        snapshot: snapshot(sampleAssessment({ arrivals }), [], {
          ...CONTEXT,
          arrivalTotals: { pending: 45, bytes: 7e9 },
        }),
      }),
    );
    expect(all['headroomd_arrivals{state="moving"}']).toBe(42);
    expect(all['headroomd_arrivals{state="stalled"}']).toBe(1);
    expect(all['headroomd_arrivals{state="refused"}']).toBe(2);
    expect(all['headroomd_arrivals_bytes']).toBe(7e9);
  });

  test('cards are counted, never named', () => {
    const card = sampleCard([], { state: 'gone' }, { ...SAMPLE_CARD, name: 'SALT_A' });
    const all = told({ cards: [card, sampleCard([], { state: 'mounted' })] });
    expect(['mounted', 'gone', 'manifest'].map((state) => all[`headroomd_cards{state="${state}"}`])).toEqual([1, 1, 0]);
    // Five takes on each of the two, none of which has arrived.
    expect(all['headroomd_cards_missing_footage_files']).toBe(10);
    expect(Object.keys(all).join('\n')).not.toContain('SALT_A');
  });

  test('loops, queues and readings, with what they belong to', () => {
    const loop = {
      of: null,
      waiting: null,
      isOutside: false,
      movedAt: NOON - SECOND,
      patienceSeconds: 120,
      standsStill: false,
    };
    const ends = { ok: 3, unreadable: 0, 'probe-failed': 1, 'not-media': 0, 'changed-meanwhile': 0, 'no-answer': 2 };
    const all = told(
      {},
      {
        loops: [
          { ...loop, loop: 'assessment' },
          { ...loop, loop: 'intake', of: 'stripe', waiting: 7, isOutside: true, standsStill: true },
        ],
        probes: [{ volume: 'stripe', ends, seconds: 1.5 }],
        successes: [{ volume: 'stripe', shelf: 'shelf-a', at: 12 }],
      },
    );
    expect(all['headroomd_loop_moved_timestamp_seconds{loop="assessment"}']).toBe(NOON / 1000 - 1);
    expect(all['headroomd_loop_stands_still{loop="assessment",outside="false"}']).toBe(0);
    expect(all['headroomd_loop_stands_still{loop="intake",of="stripe",outside="true"}']).toBe(1);
    expect(all['headroomd_loop_queue_length{loop="intake",of="stripe"}']).toBe(7);
    expect(all).not.toHaveProperty(['headroomd_loop_queue_length{loop="assessment"}']);
    expect(all['headroomd_probes_total{volume="stripe",outcome="no-answer"}']).toBe(2);
    expect(all['headroomd_probe_seconds_total{volume="stripe"}']).toBe(1.5);
    expect(all['headroomd_backup_last_success_timestamp_seconds{volume="stripe",shelf="shelf-a"}']).toBe(12);
  });

  test('the event loop is told of only while it is watched', () => {
    const name = 'headroomd_event_loop_delay_seconds{quantile="1"}';
    expect(told({})[name]).toBe(0.25);
    const { process, ...rest } = metricsSource({});
    const unwatched = series({ ...rest, process: { ...process, loopDelay: null, openFiles: null } });
    expect(Object.keys(unwatched).join('\n')).not.toMatch(/delay|handles/);
  });

  test('the format is what the collector prefers', () => {
    expect(metricsAnswer(metricsSource({}), 'application/openmetrics-text')).toMatchObject({
      ...{ status: 200, type: 'application/openmetrics-text; version=1.0.0; charset=utf-8' },
      body: expect.stringMatching(/\n# EOF\n$/),
    });
    expect(metricsAnswer(metricsSource({}), undefined).type).toBe('text/plain; version=0.0.4; charset=utf-8');
  });
});
