import type { HashFormat } from '../core/backup/mhl-model.ts';
import type { Ratio, Severity } from '../core/model.ts';
import type { Settings, SettingsProblem } from './settings.ts';

/** All that the file says. */
export interface FullSettings extends Settings {
  shelves: ShelfSettings[];
  backups: BackupSettings[];
  plans: PlanSettings[];
  notify: NotifySettings[];
}

/** A place that backups go to. */
export interface ShelfSettings {
  name: string;
  /** Absolute. */
  path: string;
  /** It leaves the building: absence is normal. */
  rotate: boolean;
}

/** A program of the user's that copies somewhere. */
export interface CommandSettings {
  /** What it copies to is called. */
  name: string;
  /** The program, absolute, and its arguments. `{list}` stands for the list of files, `{root}` for the volume's folder. */
  argv: string[];
  /** Absolute folder below which its copies can be read; `null`: they cannot. */
  readBack: string | null;
}

export interface BackupSettings {
  /** Name of a volume. */
  from: string;
  /** Names of shelves; none only where there is a command. */
  to: string[];
  /** A program that copies; `null`: none. */
  command: CommandSettings | null;
  /** Five cron fields, local time. */
  nightly: string;
  windowSeconds: number;
  /** Within which each copy is read again. */
  rereadSeconds: number;
  /** Formats of hashes that lists on the shelf hold besides XXH64. */
  hashes: HashFormat[];
}

/** A channel that is told of advisories. Secrets are named, never held. */
export type NotifySettings = NotifyRule & (WebhookSettings | ProgramSettings | MailSettings | { kind: 'desktop' });

/** What a channel is told, and when. */
export interface NotifyRule {
  /** Of all channels only one is called so. */
  name: string;
  severity: Severity;
  /** Minutes since midnight, by the clocks of this machine; `null`: it is told at all hours. */
  quiet: { from: number; until: number } | null;
  quietSeverity: Severity;
}

export interface WebhookSettings {
  kind: 'webhook';
  url: string;
  /** Absolute, or `credential:NAME`; `null`: nothing is signed. */
  secretFile: string | null;
  /** Absolute; `null`: none besides those that are known. */
  caFile: string | null;
  /** May its address be a private one, or this machine itself? */
  private: boolean;
}

export interface ProgramSettings {
  kind: 'command';
  /** The program, absolute, and its arguments. */
  argv: string[];
}

export interface MailSettings {
  kind: 'mail';
  host: string;
  port: number;
  security: 'tls' | 'starttls' | 'none';
  from: string;
  to: string[];
  /** To sign in with; `null`: nobody signs in. */
  login: { user: string; passwordFile: string } | null;
  /** Certificates (PEM) of authorities besides those known everywhere; absolute. */
  caFile: string | null;
  /** When the morning report is sent, minutes since midnight by the clocks of this machine; `null`: none is. */
  report: number | null;
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
