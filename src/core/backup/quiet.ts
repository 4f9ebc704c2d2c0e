import type { Instant } from '../model.ts';

/** When footage came to a volume, as far as it was watched. */
export interface Coming {
  exposedBytes: number;
  /** When more was exposed than before; at the first look whenever anything was. `null`: not yet. */
  cameAt: Instant | null;
  /** When something was last seen arriving, or had come. */
  busyAt: Instant;
}

export interface ComingSeen {
  /** `null`: not known. */
  exposedBytes: number | null;
  isArriving: boolean;
}

/** One more look. What nobody can tell changes nothing; a clock that was ahead counts as busy until it is right. */
export function watchComing(before: Coming | null, seen: ComingSeen, now: Instant): Coming | null {
  const { exposedBytes, isArriving } = seen;
  if (exposedBytes === null) return before;
  const hasCome = exposedBytes > (before?.exposedBytes ?? 0);
  const isBusy = before === null || isArriving || hasCome || before.busyAt > now;
  return {
    exposedBytes,
    cameAt: hasCome ? now : before === null || (before.cameAt ?? 0) > now ? null : before.cameAt,
    busyAt: isBusy ? now : before.busyAt,
  };
}
