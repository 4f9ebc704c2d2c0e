import { describe, expect, test } from 'vitest';
import { volumeAbsent } from '../../../../src/core/advise/rules/volume-absent.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };

function evaluate(...volumes: VolumeAssessment[]) {
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [] }];
  return volumeAbsent.evaluate(sampleAssessment({ volumes, projects }), THRESHOLDS);
}

describe('a working volume that is not there', () => {
  test('is told with its place, the reason, and what to do', () => {
    const { findings } = evaluate(sampleVolume({ state: 'absent', stateDetail: 'nothing is mounted there' }));
    expect(findings).toEqual([
      {
        kind: 'volume-absent',
        subject: 'stripe',
        severity: 'warning',
        message:
          'stripe at /media/stripe (nothing is mounted there): It is not there now. What was known of it is kept, not checked.',
        figures: { state: 'absent', knownBytes: 1e12, knownClips: 34 },
        remedies: [
          {
            action: 'Connect it, and mount it at /media/stripe',
            effect: 'it is found within seconds; until then 34 clips of footage (1.00 TB in all) are as last seen',
          },
        ],
      },
    ]);
  });

  test('so is one that hangs, in other words', () => {
    const { findings } = evaluate(sampleVolume({ state: 'hung' }));
    expect(findings[0]).toMatchObject({ severity: 'warning', figures: { state: 'hung' } });
    expect(findings[0]?.message).toBe(
      'stripe at /media/stripe: It does not answer. What was known of it is kept, not checked.',
    );
  });

  test.each<[VolumeAssessment['state'], string | null]>([
    ['live', null],
    // Neither back nor away: what was said of it stands.
    ['starting', 'root-not-live'],
  ])('not one that is %s', (state, hold) => {
    const { findings, holds } = evaluate(sampleVolume({ state }));
    expect(findings).toEqual([]);
    expect(holds('stripe')).toBe(hold);
  });

  test('each volume for itself; one that is no longer configured is over', () => {
    const { findings, holds } = evaluate(
      sampleVolume({ name: 'stripe', state: 'absent' }),
      sampleVolume({ name: 'second', state: 'hung' }),
      sampleVolume({ name: 'third' }),
    );
    expect(findings.map(({ subject }) => subject)).toEqual(['stripe', 'second']);
    expect(holds('third')).toBeNull();
    expect(holds('gone')).toBeNull();
  });

  test('hostile names, paths and reasons are harmless', () => {
    const hostile = { name: 'str\u001b[2Jipe', path: '/media/\n', stateDetail: '\u202Egone', state: 'absent' } as const;
    const { findings } = evaluate(sampleVolume(hostile));
    expect(findings[0]?.message).toMatch(/^str\\x1b\[2Jipe at \/media\/\\n \(\\u\{202e\}gone\): It is not there now\./);
  });

  test('waits as long as others do: an unplugged and replugged cable is no news', () => {
    expect(volumeAbsent.immediate).toBe(false);
  });
});
