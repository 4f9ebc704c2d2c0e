import { expect, test } from 'vitest';
import { type DetectedLayout, knownLayout } from '../../../src/core/assess/detected-layout.ts';
import { layoutSentence } from '../../../src/core/present/layout-words.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { sampleAssessment, sampleVolume } from '../samples.ts';

const DETECTED: DetectedLayout = {
  ...{
    level: '10',
    members: 4,
    drive: 'nvme',
    link: { name: 'pcie-4-x4', bps: 7400e6 },
    by: 'md',
    errors: [],
    notSeen: [],
  },
  drives: [
    { name: 'nvme0n1', model: 'FLASH', serial: 'N1', bytes: 2e12, rotational: false, transport: 'nvme', link: null },
  ],
  health: { state: 'whole', missing: 0, action: null, done: null },
};
const declared = { level: '0', members: 4, drive: 'ssd', link: null } as const;
function told(detected: DetectedLayout | null, said: typeof declared | null = null) {
  const volume = sampleVolume({ declaredLayout: said, detected, layout: knownLayout(said, detected) });
  const [shown] = snapshot(sampleAssessment({ volumes: [volume] }), [], {
    version: 'x',
    page: null,
    zone: 'UTC',
  }).volumes;
  return shown === undefined ? null : layoutSentence(shown);
}

test('how a volume is built, and how that is known', () => {
  expect(told(null)).toBeNull();
  expect(told(null, declared)).toBe('Built at level 0 of 4 flash drives (declared).');
  expect(told(DETECTED)).toBe('Built at level 10 of 4 NVMe drives on pcie-4-x4 (as the system shows it).');
  const single = { ...DETECTED, level: 'single', members: 1, by: 'drive' } as const;
  expect(told(single)).toBe('Built of one NVMe drive on pcie-4-x4 (as the system shows it).');
  expect(told({ ...single, drive: null }, declared)).toBe(
    'Built at level 0 of 4 flash drives (declared). The system shows one drive, and does not tell of what kind.',
  );
  expect(told(single, declared)).toMatch(/The system shows one drive \(NVMe drive\)\.$/);
  expect(told({ ...DETECTED, drive: null, notSeen: ['this', 'that'] })).toBe(
    'The system shows 4 members at level 10, by md, and does not tell of what kind. Not seen: this; that.',
  );
  expect(told({ ...DETECTED, drive: null }, declared)).toBe(
    'Built at level 10 of 4 flash drives on pcie-4-x4 (as the system shows it). What kind of drives they are is declared.',
  );
  expect(told({ ...DETECTED, level: null })).toBe(
    'The system shows 4 members at a level that it does not tell, by md (NVMe drives).',
  );
  expect(told({ ...DETECTED, level: 'linear' })).toMatch(/one after the other, by md/);
});
