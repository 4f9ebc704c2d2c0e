import type { HashFormat } from '../core/backup/mhl-model.ts';
import type { Ratio } from '../core/model.ts';
import type { Settings, SettingsProblem } from './settings.ts';

/** All that the file says. */
export interface FullSettings extends Settings {
  shelves: ShelfSettings[];
  backups: BackupSettings[];
  plans: PlanSettings[];
}

/** A place that backups go to. */
export interface ShelfSettings {
  name: string;
  /** Absolute. */
  path: string;
  /** It leaves the building: absence is normal. */
  rotate: boolean;
}

export interface BackupSettings {
  /** Name of a volume. */
  from: string;
  /** Names of shelves, at least one. */
  to: string[];
  /** Five cron fields, local time. */
  nightly: string;
  windowSeconds: number;
  /** Formats of hashes that lists on the shelf hold besides XXH64. */
  hashes: HashFormat[];
}

/** A shoot plan. */
export interface PlanSettings {
  project: string;
  /** ISO 8601 calendar days, in order. */
  days: string[];
  cameras: number;
  /** As written; which format it is, is decided where formats are known. */
  format: string;
  width: number;
  height: number;
  frameRate: Ratio;
  /** Recorded by each camera on each day. */
  hours: number;
}

export type FullSettingsResult = { ok: true; settings: FullSettings } | { ok: false; problems: SettingsProblem[] };
