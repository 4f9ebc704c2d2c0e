import { expect, test } from 'vitest';
import { watchLimit } from '../../../../src/core/advise/rules/watch-limit.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const evaluate = (...volumes: Partial<VolumeAssessment>[]) =>
  watchLimit.evaluate(sampleAssessment({ volumes: volumes.map((volume) => sampleVolume(volume)) }), THRESHOLDS);
const limit = (folders: number, wanted = 524_288, name = 'max_user_watches') => ({
  watchLimit: { name, folders, wanted },
});

test('folders without a watch are counted over all volumes, with how late that makes and the line that helps', () => {
  const { findings } = evaluate({ name: 'stripe', ...limit(3_100) }, { name: 'second', ...limit(900, 600_000) });
  expect(findings).toEqual([
    {
      kind: 'watch-limit',
      subject: 'fs.inotify.max_user_watches',
      severity: 'notice',
      message:
        '4000 folders on stripe and second cannot be watched, for the limit of fs.inotify.max_user_watches is used up: what comes there is found within about 1 min 20 s, not at once.',
      figures: { folders: 4_000, wanted: 600_000 },
      remedies: [
        {
          action: 'Raise it with: sudo sysctl fs.inotify.max_user_watches=600000',
          effect:
            'all 4000 folders are watched soon after; written into a file below /etc/sysctl.d it outlasts a restart',
        },
      ],
    },
  ]);
  expect(evaluate(limit(1)).findings[0]?.message).toContain('1 folder on stripe cannot be watched');
  expect(evaluate(limit(1)).findings[0]?.message).toContain('within about 1 min 00 s');
});

test('each limit is one matter; it is over when all are watched, unless a volume is away', () => {
  const two = evaluate(limit(5), { name: 'second', ...limit(2, 512, 'max_user_instances') });
  expect(two.findings.map(({ subject }) => subject)).toEqual([
    'fs.inotify.max_user_watches',
    'fs.inotify.max_user_instances',
  ]);
  expect(evaluate({}).holds('fs.inotify.max_user_watches')).toBeNull();
  expect(evaluate({ state: 'absent' }).holds('fs.inotify.max_user_watches')).toBe('root-not-live');
});
