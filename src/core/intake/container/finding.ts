import type { Wholeness } from '../../root-port.ts';

/** What a reader of one container found, with the figures that a person can check. */
export interface Finding {
  verdict: Wholeness;
  /** What was found, in words; `null` when the verdict says all. */
  detail: string | null;
}

export const WHOLE: Finding = { verdict: 'whole', detail: null };

export function cut(detail: string): Finding {
  return { verdict: 'cut', detail };
}

export function unwritten(detail: string): Finding {
  return { verdict: 'unwritten', detail };
}

/** The structure holds together as far as it goes, but cannot prove that nothing is missing. */
export function cannotTell(detail: string | null): Finding {
  return { verdict: 'no-structure', detail };
}
