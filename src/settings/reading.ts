/**
 * What reading one written value came to. A refusal carries no "expected": that belongs to the setting; it may carry a
 * hint, when the mistake is a well-known one.
 */
export type Reading<T> = { ok: true; value: T } | { ok: false; hint: string | null };

/** A value that was understood. */
export function understood<T>(value: T): Reading<T> {
  return { ok: true, value };
}

/** A value that was not; `hint` says how it is probably meant, in words for a person. */
export function refused(hint: string | null = null): { ok: false; hint: string | null } {
  return { ok: false, hint };
}
