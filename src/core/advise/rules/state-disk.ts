import type { Assessment } from '../../assess/assessment.ts';
import type { StateRoom } from '../../machine-port.ts';
import { display } from '../../present/escape.ts';
import { formatBytes } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Outcome, type Rule, type RuleResult, resultOf } from './rule.ts';

/**
 * The databases once more, for an upgrade copies them first, and as much again for SQLite's working files, which hold what is being
 * written; with some room for all else that is written there (judgement, no source).
 */
const wantedBytes = ({ ownBytes }: StateRoom) => 2 * ownBytes + 200_000_000;
/** With so little left the next large card may fill it. */
const CRITICAL_BYTES = 100_000_000;
const CLEAR = 1.25;

/** The drive of headroomd's own state is nearly full. That it cannot be written any more is told by itself. */
export const stateDiskLow: Rule = {
  kind: 'state-disk-low',
  immediate: false,
  evaluate: ({ machine, stateTrouble }: Assessment): RuleResult => {
    const { stateRoom } = machine;
    if (stateRoom === null) return resultOf([], () => true);
    return resultOf([[stateRoom.path, judge(stateRoom, stateTrouble !== null)]]);
  },
};

function judge(room: StateRoom, isRefused: boolean): Outcome {
  const wanted = wantedBytes(room);
  if (room.availableBytes >= CLEAR * wanted) return null;
  const finding = findingOf(room, wanted);
  return isRefused || room.availableBytes >= wanted ? { between: finding } : finding;
}

function findingOf({ path, availableBytes, ownBytes }: StateRoom, wanted: number): Finding {
  const left = formatBytes(availableBytes);
  return {
    kind: 'state-disk-low',
    subject: path,
    severity: availableBytes < CRITICAL_BYTES ? 'critical' : 'warning',
    message: `The drive of headroomd's own state has ${left} left to write (${display(path)}, which takes ${formatBytes(ownBytes)}). When it is full, what arrives is not taken in and no copy is noted. Your footage is not touched.`,
    figures: { availableBytes, ownBytes, wantedBytes: wanted },
    remedies: [
      {
        action: 'Make room on that drive, or stop headroomd, move the folder, and name the new one with --state',
        effect: `${formatBytes(wanted)} free suffice; ${formatBytes(Math.max(0, wanted - availableBytes))} are missing`,
      },
    ],
  };
}
