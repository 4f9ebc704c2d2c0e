import { messageOf } from '../../core/fault.ts';
import type { ProbeResult } from '../../core/intake/settle-state.ts';
import type { Clip } from '../../core/model.ts';
import type { BoardDeps } from './board-deps.ts';
import { type Entry, membersOf } from './unit-entry.ts';

/** Has a unit read, and keeps with it what was read, of its present generation. Never rejects. */
export async function readEntry(
  entry: Entry,
  evidence: Clip['evidence'],
  { read, fault }: Pick<BoardDeps, 'read'> & { fault: (error: unknown) => void },
): Promise<ProbeResult> {
  const { generation } = entry.state;
  try {
    const outcome = await read(entry.unit, membersOf(entry), evidence);
    if (!outcome.ok) return outcome;
    entry.understood = { generation, what: outcome.understood };
    return { ok: true };
  } catch (error) {
    fault(error);
    return { ok: false, reason: 'probe-failed', detail: messageOf(error) };
  }
}
