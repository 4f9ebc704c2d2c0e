import { KIND_NAMES, KINDS, type Kind, type Raise, type Trouble } from './kinds.ts';

/** What one side said. */
export interface Record {
  /** It holds, or holds no longer. The same again is no news. */
  tell(kind: Kind, subject: string, holds: boolean, at: number): void;
  /** A message that is neither a beginning nor an end. */
  more(kind: Kind): void;
  of(kind: Kind): { raises: Raise[]; messages: number };
}

export function createRecord(): Record {
  const said = new Map(KIND_NAMES.map((kind) => [kind, { raises: [] as Raise[], messages: 0 }]));
  const open = new Map<string, Raise>();
  const of = (kind: Kind) => said.get(kind) ?? { raises: [], messages: 0 };
  return {
    tell(kind, subject, holds, at) {
      const key = `${kind}\n${subject}`;
      const before = open.get(key);
      if (holds === (before !== undefined)) return;
      of(kind).messages += 1;
      if (before !== undefined) {
        before.to = at;
        open.delete(key);
        return;
      }
      const raise = { subject, from: at, to: Number.POSITIVE_INFINITY };
      of(kind).raises.push(raise);
      open.set(key, raise);
    },
    more(kind) {
      of(kind).messages += 1;
    },
    of,
  };
}

/** How one side did, of one kind. */
export interface Row {
  raises: number;
  /** No trouble followed, or would have. */
  forNothing: number;
  troubles: number;
  missed: number;
  /** From the raise to the trouble, ms. */
  leads: number[];
  messages: number;
}

export const EMPTY_ROW: Row = { raises: 0, forNothing: 0, troubles: 0, missed: 0, leads: [], messages: 0 };

/** `wouldCome`: trouble of that subject would have come by that raise, had nobody done anything. */
export function rowOf(
  kind: Kind,
  said: { raises: Raise[]; messages: number },
  troubles: readonly Trouble[],
  wouldCome: (raise: Raise) => boolean = () => false,
): Row {
  const { horizonMs, leadMs } = KINDS[kind];
  const raises = Map.groupBy(said.raises, ({ subject }) => subject);
  const all = Map.groupBy(troubles, ({ subject }) => subject);
  const isRight = (raise: Raise) =>
    wouldCome(raise) ||
    (all.get(raise.subject) ?? []).some(({ at, until }) => until >= raise.from && at <= raise.from + horizonMs);
  const leads = troubles.map(({ subject, at }) => {
    const before = (raises.get(subject) ?? []).filter(({ from, to }) => from <= at - leadMs && to >= at - horizonMs);
    return before.length === 0 ? null : at - Math.min(...before.map(({ from }) => from));
  });
  const caught = leads.filter((lead) => lead !== null);
  return {
    raises: said.raises.length,
    forNothing: said.raises.filter((raise) => !isRight(raise)).length,
    troubles: troubles.length,
    missed: troubles.length - caught.length,
    leads: caught,
    messages: said.messages,
  };
}

export function plus(one: Row, other: Row): Row {
  return {
    raises: one.raises + other.raises,
    forNothing: one.forNothing + other.forNothing,
    troubles: one.troubles + other.troubles,
    missed: one.missed + other.missed,
    leads: [...one.leads, ...other.leads],
    messages: one.messages + other.messages,
  };
}
