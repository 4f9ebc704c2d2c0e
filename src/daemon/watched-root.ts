import type { ProbeEnd } from '../core/metrics/daemon-families.ts';
import type { Clock } from '../core/ports.ts';
import type { ProbeOutcome, RootPort, RootState } from '../core/root-port.ts';
import type { LineMark } from './loop-marks.ts';

export interface RootWatcher {
  /** Its process is started. */
  started(): void;
  /** It said so of itself. */
  told(state: RootState): void;
  /** Touched with every clip that is read. */
  probes: LineMark;
  /** One was read, in so many seconds. */
  probed(end: ProbeEnd, seconds: number): void;
  clock: Pick<Clock, 'ticks'>;
}

/** The same root; when it is started and how clips are read is noted on the way. */
export function watchedRoot(root: RootPort, { started, told, probes, probed, clock }: RootWatcher): RootPort {
  return {
    start(onEvent) {
      started();
      root.start((event) => {
        if (event.type === 'state') told(event.state);
        return onEvent(event);
      });
    },
    async probe(file) {
      const from = clock.ticks();
      const end = (how: ProbeEnd) => probed(how, (clock.ticks() - from) / 1000);
      probes.begins();
      try {
        const outcome = await root.probe(file);
        end(endOf(outcome));
        return outcome;
      } catch (error) {
        end('no-answer');
        throw error;
      } finally {
        probes.ends();
      }
    },
    inspect: (paths) => root.inspect(paths),
    space: () => root.space(),
    missing: (paths) => root.missing(paths),
    manifest: (file) => root.manifest(file),
    content: (file) => root.content(file),
    sweep: () => root.sweep(),
    stop: () => root.stop(),
  };
}

function endOf(outcome: ProbeOutcome): ProbeEnd {
  return outcome.ok ? 'ok' : outcome.reason;
}
