import { expect, test } from 'vitest';
import { stateRefused } from '../../../../src/core/advise/rules/state-refused.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const thresholds = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };

test('a state that cannot be written is critical, with the reason and what it means; otherwise nothing', () => {
  expect(stateRefused.evaluate(sampleAssessment(), thresholds).findings).toEqual([]);
  const stateTrouble = { message: 'No room left for /state/\u001bcatalogue.db. Make room.', since: NOON };
  const { findings } = stateRefused.evaluate(sampleAssessment({ stateTrouble }), thresholds);
  expect(findings).toMatchObject([{ kind: 'state-refused', subject: 'state', severity: 'critical' }]);
  expect(findings[0]?.message).toMatch(
    /^No room left for \/state\/\\x1bcatalogue\.db\. Make room\. Until then arrivals are not taken in/,
  );
  expect(findings[0]?.remedies).toEqual([
    {
      action: 'Look at the drive of the state folder: room, rights, and whether it is well',
      effect: 'it is tried again by itself, for 0 s now',
    },
  ]);
  const machine = { clockJump: null, stateRoom: { path: '/state', availableBytes: 12_000, ownBytes: 5 } };
  const [known] = stateRefused.evaluate(sampleAssessment({ stateTrouble, machine }), thresholds).findings;
  expect(known?.remedies[0]?.action).toMatch(/^Look at the drive of \/state: room/);
  expect(known?.remedies[0]?.effect).toMatch(/; 12\.0 kB are left to write there$/);
});
