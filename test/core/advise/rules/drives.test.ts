import { describe, expect, test } from 'vitest';
import { arrayDegraded } from '../../../../src/core/advise/rules/array-degraded.ts';
import { driveFailing } from '../../../../src/core/advise/rules/drive-failing.ts';
import { layoutContradicted } from '../../../../src/core/advise/rules/layout-contradiction.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { type DetectedLayout, knownLayout } from '../../../../src/core/assess/detected-layout.ts';
import type { DriveSign } from '../../../../src/core/assess/drive-signs.ts';
import { sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const DETECTED: DetectedLayout = {
  ...{ level: '5', members: 4, drive: 'hdd', link: null, by: 'md', drives: [], errors: [], notSeen: [] },
  health: { state: 'whole', missing: 0, action: null, done: null },
};
const safety = { exposedBytes: 4e11, exposedClips: 3, exposedSeconds: 9, exposedSince: null };
const of = (rule: typeof arrayDegraded, over: Partial<VolumeAssessment>) =>
  rule.evaluate(sampleAssessment({ volumes: [sampleVolume(over)] }), THRESHOLDS);

describe('an array that is not whole', () => {
  const degraded = (health: Partial<DetectedLayout['health']>, over: Partial<VolumeAssessment> = {}) =>
    of(arrayDegraded, { detected: { ...DETECTED, health: { ...DETECTED.health, ...health } }, safety, ...over })
      .findings[0];

  test('is critical, and says what would be lost', () => {
    const finding = degraded({ state: 'degraded', missing: 1 });
    expect(finding).toMatchObject({ severity: 'critical', subject: 'stripe' });
    expect(finding?.message).toBe(
      'stripe: its array at level 5 is not whole: 1 member of 4 is missing or failed. Until it is, one more failed member may lose everything on it, and reading is slower.',
    );
    expect(finding?.remedies).toEqual([
      {
        action: 'Copy what has no verified copy to another volume now, and keep the cards',
        effect: '400 GB would be lost with the array',
      },
      { action: 'Replace the missing member', effect: 'then the array can be put right' },
    ]);
    expect(degraded({ state: 'degraded', missing: 2, action: 'recover', done: 0.25 })?.message).toMatch(
      /2 members of 4 are missing or failed \(recover, 25 % of it done\)/,
    );
    expect(degraded({ state: 'degraded', missing: 1 }, { safety: null })?.remedies[0]?.effect).toMatch(
      /count everything$/,
    );
  });

  test('so is one that is being put right', () => {
    const finding = degraded({ state: 'resyncing', action: 'resync' });
    expect(finding?.message).toMatch(/it is being put right \(resync\)/);
    expect(finding?.remedies[1]?.action).toBe('Leave heavy work for later');
  });

  test('nothing is told of one that is whole, or of which nothing is seen', () => {
    expect(degraded({})).toBeUndefined();
    expect(of(arrayDegraded, { detected: null }).findings).toEqual([]);
    expect(arrayDegraded.immediate).toBe(true);
  });
});

describe('a drive with a failing sign', () => {
  const sign = (kind: DriveSign['kind'], severity: DriveSign['severity'], words: string): DriveSign => ({
    ...{ drive: 'sdb', model: 'DISK 4TB', serial: 'S2' },
    ...{ kind, severity, words },
  });
  const failing = (signs: DriveSign[], over: Partial<VolumeAssessment> = {}) =>
    of(driveFailing, { signs, safety, ...over });

  test('is named, its worst sign first, with what it means for this volume', () => {
    const [finding] = failing([
      sign('sectors-replaced', 'warning', '5 bad sectors were replaced'),
      sign('sectors-pending', 'critical', '8 sectors cannot be read now'),
    ]).findings;
    expect(finding).toMatchObject({ subject: 'stripe/sdb', severity: 'critical' });
    expect(finding?.message).toBe(
      'stripe: drive sdb, DISK 4TB, serial S2: 8 sectors cannot be read now; 5 bad sectors were replaced. If it dies, everything on the volume is lost.',
    );
    expect(finding?.remedies.map(({ action }) => action)).toEqual([
      'Copy what has no verified copy to another volume now, and keep the cards',
      'Replace the drive',
    ]);
  });

  test('what it means at another level, and where that is not known; heat asks for air', () => {
    const replaced = [sign('sectors-replaced', 'warning', 'x')];
    expect(failing(replaced, { layout: null }).findings[0]?.message).toMatch(
      /If it dies, count on losing the volume\.$/,
    );
    const hot = { ...sign('hot', 'warning', 'it is at 84 °C'), model: null, serial: null };
    expect(failing([hot]).findings[0]).toMatchObject({
      message: expect.stringMatching(/^stripe: drive sdb: it is at 84 °C\./),
      remedies: [{ action: 'Give the drive air, or pause heavy writing' }],
    });
  });

  const drives = ['sda', 'sdb', 'sdc', 'sdd'].map((name) => ({
    ...{ name, model: null, serial: null, bytes: 1, rotational: true, transport: 'sata' as const, link: null },
  }));
  test.each<[string, Partial<DetectedLayout>, RegExp]>([
    [
      'whole',
      {},
      /The array is whole and made to outlive the loss of one member; do not count on it outliving another\./,
    ],
    [
      'with room for two',
      { level: '6' },
      /made to outlive the loss of two members; after the first, one more is left\./,
    ],
    [
      'degraded already',
      { health: { ...DETECTED.health, state: 'degraded' } },
      /not whole already: .* count on losing/,
    ],
    [
      'being put right',
      { health: { ...DETECTED.health, state: 'resyncing' } },
      /not whole already: .* count on losing/,
    ],
    ['two members on one drive', { drives: drives.slice(1) }, /count on losing the volume: its layout is not seen/],
    ['of several layouts', { notSeen: ['one layout: ...'] }, /count on losing the volume: its layout is not seen/],
  ])('in an array that is seen, %s', (_, over, words) => {
    const detected = { ...DETECTED, drives, ...over };
    const signs = [sign('sectors-replaced', 'warning', 'x')];
    const layout = knownLayout(null, detected);
    expect(failing(signs, { detected, layout, safety: null }).findings[0]?.message).toMatch(words);
  });

  test('nothing is concluded from a level that is only declared', () => {
    const layout = knownLayout({ level: '5', members: 4, drive: 'hdd', link: null }, null);
    expect(
      failing([sign('sectors-replaced', 'warning', 'x')], { layout, detected: null }).findings[0]?.message,
    ).toMatch(/count on losing the volume: level 5 is declared, and whether its other members are well is not seen\.$/);
  });

  test('one for each drive; nothing is concluded of a volume that is away', () => {
    const signs = [sign('hot', 'warning', 'x'), { ...sign('hot', 'warning', 'x'), drive: 'sdc' }];
    expect(failing(signs).findings).toHaveLength(2);
    const away = failing(signs, { state: 'absent' });
    expect(away.findings).toEqual([]);
    expect([away.holds('stripe/sdb'), away.holds('other/sda')]).toEqual(['root-not-live', null]);
  });
});

describe('a declared layout that is not what is seen', () => {
  const declared = { level: '0', members: 4, drive: 'hdd', link: null } as const;
  test('is told, with which of the two counts', () => {
    const [finding] = of(layoutContradicted, {
      declaredLayout: declared,
      detected: DETECTED,
      layout: knownLayout(declared, DETECTED),
    }).findings;
    expect(finding).toMatchObject({ severity: 'warning', figures: { declared: '0 of 4 hdd', seen: '5 of 4 hdd' } });
    expect(finding?.message).toBe(
      'stripe: level 0 is declared, and level 5 is seen. What is seen counts. What it can give and survive may be told wrongly.',
    );
    const unsure = { ...DETECTED, level: 'linear' } as const;
    expect(
      of(layoutContradicted, { declaredLayout: declared, detected: unsure, layout: knownLayout(declared, unsure) })
        .findings[0]?.message,
    ).toMatch(/What is declared counts, for what is seen is not enough\./);
    expect(of(layoutContradicted, { declaredLayout: null, detected: DETECTED }).findings).toEqual([]);
  });
});
