import type { Instant, Severity } from '../model.ts';

/** Closed set of what headroomd speaks up about. A new kind is one file in `rules/` and one entry here. */
export type AdvisoryKind =
  | 'state-refused'
  | 'state-disk-low'
  | 'volume-absent'
  | 'volume-read-only'
  | 'shelf-read-only'
  | 'footage-time'
  | 'capacity-reserve'
  | 'capacity-overrun'
  | 'plan-missed'
  | 'speed-overrun'
  | 'volume-busy'
  | 'volume-slow'
  | 'array-degraded'
  | 'drive-failing'
  | 'copy-differs'
  | 'list-differs'
  | 'backup-failed'
  | 'shelf-absent'
  | 'backup-missed'
  | 'footage-exposed'
  | 'backup-window'
  | 'shelf-filling'
  | 'single-shelf'
  | 'layout-contradiction'
  | 'watch-limit'
  | 'clock-jump'
  | 'card-incomplete'
  | 'take-incomplete'
  | 'clip-undecoded'
  | 'take-differs'
  | 'mixed-rates'
  | 'arrival-stalled'
  | 'arrival-refused';

export type Figures = Record<string, number | string | null>;

export interface Remedy {
  /** What to do, in the imperative. */
  action: string;
  /** How far it helps, with a number. */
  effect: string;
}

/** What a rule found in this pass: a condition that holds (severity), or holds no longer (`null`). */
export interface Finding {
  kind: AdvisoryKind;
  /** Volume, project or path: one advisory per kind and subject. */
  subject: string;
  severity: Severity | null;
  message: string;
  figures: Figures;
  remedies: Remedy[];
}

/** An advisory that is raised now. */
export interface Advisory {
  /** `kind:subject`, stable over restarts. */
  id: string;
  kind: AdvisoryKind;
  severity: Severity;
  subject: string;
  message: string;
  since: Instant;
  figures: Figures;
  remedies: Remedy[];
}
