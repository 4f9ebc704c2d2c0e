import { describe, expect, test } from 'vitest';
import { exposition } from '../../../src/core/metrics/exposition.ts';
import type { Family } from '../../../src/core/metrics/family.ts';
import { familiesOf, oneOf, timestamp } from '../../../src/core/metrics/family.ts';

const family = (over: Partial<Family> = {}): Family => ({
  ...{ name: 'a_bytes', type: 'gauge', unit: 'bytes', help: 'A.', samples: [{ labels: {}, value: 1 }] },
  ...over,
});

describe('the text of metrics', () => {
  test('one of each type, in both formats', () => {
    const families = [
      family({ samples: [{ labels: { volume: 'stripe' }, value: 4e12 }] }),
      family({ name: 'b_seconds', type: 'counter', unit: 'seconds', help: 'B.' }),
      family({ name: 'c', type: 'info', unit: null, help: 'C.' }),
      family({
        ...{ name: 'd_seconds', type: 'summary', unit: 'seconds', help: 'D.' },
        samples: [{ labels: { quantile: '0.5' }, value: 0.25 }],
      }),
    ];
    expect(exposition(families, 'openmetrics')).toBe(
      [
        ...[
          '# TYPE a_bytes gauge',
          '# UNIT a_bytes bytes',
          '# HELP a_bytes A.',
          'a_bytes{volume="stripe"} 4000000000000',
        ],
        ...['# TYPE b_seconds counter', '# UNIT b_seconds seconds', '# HELP b_seconds B.', 'b_seconds_total 1'],
        ...['# TYPE c info', '# HELP c C.', 'c_info 1'],
        ...[
          '# TYPE d_seconds summary',
          '# UNIT d_seconds seconds',
          '# HELP d_seconds D.',
          'd_seconds{quantile="0.5"} 0.25',
        ],
        ...['# EOF', ''],
      ].join('\n'),
    );
    expect(exposition(families, 'text')).toBe(
      [
        ...['# HELP a_bytes A.', '# TYPE a_bytes gauge', 'a_bytes{volume="stripe"} 4000000000000'],
        ...['# HELP b_seconds_total B.', '# TYPE b_seconds_total counter', 'b_seconds_total 1'],
        ...['# HELP c_info C.', '# TYPE c_info gauge', 'c_info 1'],
        ...['# HELP d_seconds D.', '# TYPE d_seconds summary', 'd_seconds{quantile="0.5"} 0.25', ''],
      ].join('\n'),
    );
  });

  test('hostile text is escaped; in help texts each format has its own rule for quotes', () => {
    const hostile = family({
      ...{ help: 'a "b" \\ \n c', unit: null, name: 'a' },
      samples: [{ labels: { project: '"} 1\n# EOF\\' }, value: 1 }],
    });
    expect(exposition([hostile], 'openmetrics').split('\n')).toEqual([
      ...['# TYPE a gauge', '# HELP a a \\"b\\" \\\\ \\n c', 'a{project="\\"} 1\\n# EOF\\\\"} 1', '# EOF', ''],
    ]);
    expect(exposition([hostile], 'text').split('\n')[0]).toBe('# HELP a a "b" \\\\ \\n c');
  });

  test('of labels that are told twice the first counts; what has no sample is left out wholly', () => {
    const twice = family({
      samples: [
        { labels: { a: 'b' }, value: 1 },
        { labels: { a: 'c' }, value: 2 },
        { labels: { a: 'b' }, value: 3 },
      ],
    });
    expect(
      exposition([twice, family({ name: 'none', samples: [] })], 'text')
        .split('\n')
        .slice(2),
    ).toEqual([...['a_bytes{a="b"} 1', 'a_bytes{a="c"} 2', '']]);
    expect(exposition([], 'openmetrics')).toBe('# EOF\n');
  });
});

describe('families read off items', () => {
  test('what is not known, or no number, has no sample: never 0, never NaN', () => {
    const rows = [
      { name: 'a', unit: null, help: '', of: (value: number | null) => value },
      {
        name: 'b',
        unit: null,
        help: '',
        of: (value: number | null) =>
          [
            [{ x: '1' }, value],
            [{ x: '2' }, 2],
          ] as const,
      },
    ];
    const [a, b] = familiesOf(rows, [null, 0, Number.NaN, Number.POSITIVE_INFINITY, 5], (value) => ({
      of: String(value),
    }));
    expect(a?.samples.map(({ value }) => value)).toEqual([0, 5]);
    expect(b?.samples.filter(({ labels }) => labels['x'] === '1').map(({ value }) => value)).toEqual([0, 5]);
    expect(b?.samples.filter(({ labels }) => labels['x'] === '2')).toHaveLength(5);
  });

  test('a state is one of its set, or not known; an instant is seconds', () => {
    expect(oneOf(['on', 'off'], 'off')).toEqual([
      [{ state: 'on' }, 0],
      [{ state: 'off' }, 1],
    ]);
    expect(oneOf(['on', 'off'], null)).toBeNull();
    // RFC 3339, section 5.8: the second example, in the zone of the first.
    expect(timestamp('1996-12-19T16:39:57-08:00')).toBe(Date.UTC(1996, 11, 20, 0, 39, 57) / 1000);
    expect(timestamp(null)).toBeNull();
  });
});
