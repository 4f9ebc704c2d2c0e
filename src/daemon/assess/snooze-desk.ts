import type { StandingAdvisory } from '../../core/advise/advise.ts';
import { advisoryCalled, codeOf } from '../../core/advise/advisory-code.ts';
import { lifted, type Snooze, type SnoozeAsked, snoozeOf, snoozeProblem } from '../../core/advise/snooze.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { type AdvisorySnapshot, advisorySnapshot } from '../../core/present/snapshot.ts';
import { isoWithOffset } from '../../core/units.ts';

/** More at once is a slip, or nobody's wish. */
const most = 100;

export interface SnoozeDeps {
  /** What stands now, snoozed or not. */
  standing: () => readonly StandingAdvisory[];
  /** Puts in what was said; false: it holds, but the ledger does not take it. */
  say: (snoozes: ReadonlyMap<string, Snooze>) => Promise<boolean>;
  clock: Pick<Clock, 'now'>;
  log: Log;
  /** IANA name: whose clocks times are told by. */
  zone: string;
}

/** How the advisories stand then, in the order of their names. `kept`: it holds over a restart. */
export type SnoozeTold = { advisories: AdvisorySnapshot[]; kept: boolean } | { problem: string };

/**
 * Where a person says that advisories are known, or are to be quiet for a while. Each is named by its code or its whole id; all of
 * them, or none.
 */
export interface SnoozeDesk {
  snooze(names: readonly string[], asked: SnoozeAsked): Promise<SnoozeTold>;
  /** Takes it back: they are told again, as far as they stand. */
  lift(names: readonly string[], by: string): Promise<SnoozeTold>;
  /** Those that are snoozed, in the order of the screen. */
  list(): AdvisorySnapshot[];
}

export function createSnoozeDesk({ standing, say, clock, log, zone }: SnoozeDeps): SnoozeDesk {
  const shown = (advisory: StandingAdvisory) => advisorySnapshot(advisory, (instant) => isoWithOffset(instant, zone));

  async function put(those: readonly StandingAdvisory[], snoozeFor: (one: StandingAdvisory) => Snooze) {
    const snoozes = new Map(those.map((one) => [one.id, snoozeFor(one)]));
    const kept = await say(snoozes);
    const now = new Map(standing().map((one) => [one.id, one]));
    // One may be over by the time it is kept.
    return { advisories: those.flatMap(({ id }) => now.get(id) ?? []).map(shown), kept };
  }

  return {
    async snooze(names, asked) {
      const now = clock.now();
      const those = called(names, standing());
      const problem = typeof those === 'string' ? those : snoozeProblem(asked, now);
      if (problem !== null || typeof those === 'string') return { problem: problem ?? '' };
      const told = await put(those, ({ severity }) => snoozeOf(asked, severity, now));
      for (const { id, snooze } of told.advisories) {
        const { known = false, reason = null, saidBy = '', until = null } = snooze ?? {};
        const how = known ? 'known' : 'to be quiet';
        const end = until === null ? '' : ` until ${until}`;
        const why = reason === null ? '' : `: ${reason}`;
        log.info({ advisory: id, by: saidBy, until }, `${id} is ${how}${end}, as ${saidBy} said${why}`);
      }
      return told;
    },
    async lift(names, by) {
      const those = called(names, standing());
      if (typeof those === 'string') return { problem: those };
      const loud = those.filter(({ snooze }) => snooze === null).map(({ id }) => codeOf(id));
      if (loud.length > 0) return { problem: `${loud.join(', ')} ${loud.length === 1 ? 'is' : 'are'} not snoozed` };
      const now = clock.now();
      const told = await put(those, ({ snooze, severity }) =>
        lifted(snooze ?? snoozeOf({ until: now, reason: '', by }, severity, now), now),
      );
      for (const { id } of told.advisories)
        log.info({ advisory: id, by: display(by) }, `${id} is told again, as ${display(by)} said`);
      return told;
    },
    list: () =>
      standing()
        .filter(({ snooze }) => snooze !== null)
        .map(shown),
  };
}

/** Those that are called so, each once; in words, when one of them is not to be told. */
function called(names: readonly string[], standing: readonly StandingAdvisory[]): StandingAdvisory[] | string {
  if (names.length === 0) return 'name the advisory';
  if (names.length > most) return `at most ${most} can be named at once`;
  const found = new Set<StandingAdvisory>();
  for (const name of names) {
    const one = advisoryCalled(name, standing);
    if (typeof one === 'string') return one;
    found.add(one);
  }
  return [...found];
}
