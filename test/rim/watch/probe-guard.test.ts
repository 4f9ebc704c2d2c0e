import { expect, test } from 'vitest';
import type { FileStat } from '../../../src/core/model.ts';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import { ProbeGuard } from '../../../src/rim/watch/probe-guard.ts';

const file = (ino: bigint, mtimeNs = 1n): FileStat => ({
  ...{ path: `${ino}.mov`, size: 5, allocated: 4096, mtimeNs, ctimeNs: 1n, dev: 1n, ino, nlink: 1 },
});

/** A process that reads what it is given, and ends when it gets the deadly file. */
function deadly(bad: bigint) {
  const guard = new ProbeGuard();
  const running: ((error: Error) => void)[] = [];
  const read: string[] = [];
  const ask = (asked: FileStat): Promise<ProbeOutcome> =>
    guard.ask(asked, async () => {
      read.push(asked.path);
      const ended = new Promise<never>((_, reject) => running.push(reject));
      ended.catch(() => {});
      setTimeout(() => {
        if (asked.ino !== bad || asked.mtimeNs !== 1n) return;
        guard.processEnded();
        for (const reject of running.splice(0)) reject(new Error('the process was ended'));
      }, 5);
      const raw = { structure: null, tracks: [], readerTrouble: null };
      const outcome: ProbeOutcome = { ok: true, raw, stat: asked };
      const done = new Promise<ProbeOutcome>((resolve) => setTimeout(() => resolve(outcome), 10));
      return Promise.race([done, ended]);
    });
  /** As the daemon does: again, until there is an answer. */
  const askOn = async (asked: FileStat): Promise<ProbeOutcome> => {
    for (;;) {
      try {
        return await ask(asked);
      } catch {
        await new Promise((resolve) => setTimeout(resolve, 1));
      }
    }
  };
  return { ask: askOn, read };
}

test('of many that were being read, the one that ends the process is found; the others are read', async () => {
  const { ask, read } = deadly(3n);
  const outcomes = await Promise.all([1n, 2n, 3n, 4n, 5n].map((ino) => ask(file(ino))));
  expect(outcomes.map(({ ok }) => ok)).toEqual([true, true, false, true, true]);
  expect(outcomes[2]).toEqual({
    ok: false,
    reason: 'probe-failed',
    detail: 'reading it ended the process that reads twice; it is not read again until it changes',
  });
  expect(read.filter((path) => path === '3.mov')).toHaveLength(2);
});

test('it is not read again until it changes', async () => {
  const { ask, read } = deadly(3n);
  expect(await ask(file(3n))).toMatchObject({ ok: false });
  expect(await ask(file(3n))).toMatchObject({ ok: false });
  expect(read).toHaveLength(2);
  expect(await ask(file(3n, 2n))).toMatchObject({ ok: true });
});
