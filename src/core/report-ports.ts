import type { Advisory } from './advise/advisory.ts';
import type { AnnouncedEvent } from './advise/announce.ts';
import type { BackupRun } from './backup/backup-run.ts';
import type { CommandRun } from './backup/command-run.ts';
import type { CopyState } from './backup/copies.ts';
import type { ReadGrade } from './backup/copy-port.ts';
import type { Instant } from './model.ts';

/* What a report is made of, beside how things stand now: all of it by when it was. */

/** From an instant on, up to another that is no longer in it. */
export interface Span {
  from: Instant;
  until: Instant;
}

/** Clips of one project, or of an area outside of all (`project` is `null`), that became ready within a time and are still there. */
export interface ArrivedSum {
  volume: string;
  area: 'project' | 'shared' | 'unassigned';
  project: string | null;
  /** Of footage, as are all that follow but `made`. */
  clips: number;
  bytes: number;
  durationSeconds: number;
  /** Picture and sound whose length is not known: they are in no sum of seconds. */
  untimed: number;
  notDecoded: number;
  /** When the first and the last of them was ready; `null`: there are none. */
  firstAt: Instant | null;
  lastAt: Instant | null;
  /** Proxies and renders. */
  made: { clips: number; bytes: number };
}

/** Footage that no reader could decode. */
export interface NotDecoded {
  volume: string;
  project: string | null;
  name: string;
}

/** Copies of a volume on a shelf that were last read within a time, by what was found. */
export interface ReadSum {
  volume: string;
  grade: ReadGrade;
  state: CopyState;
  /** They were made within that time too. */
  isNew: boolean;
  files: number;
  bytes: number;
}

/** A run that is over. */
export type EndedRun = { kind: 'backup'; run: BackupRun } | { kind: 'command'; run: CommandRun };

/** An advisory that was announced: raised, worse, over, or still critical after a day. */
export interface AdvisoryNews {
  event: AnnouncedEvent;
  /** As it was announced; of one that is over, as it last was. Not escaped. */
  advisory: Advisory;
  at: Instant;
}

/** What is told of the time that has gone by. What is put is durable when a call resolves, and kept for `NEWS_KEPT_MS`. */
export interface HistoryPort {
  arrived(span: Span): Promise<ArrivedSum[]>;
  /** The first, at most so many. */
  notDecoded(span: Span, most: number): Promise<NotDecoded[]>;
  /** Is any clip of the volume known that was ready before? */
  hasOlder(volume: string, at: Instant): Promise<boolean>;
  /** `shelf`: its id. */
  copiesRead(shelf: string, span: Span): Promise<ReadSum[]>;
  /** Runs that ended within a time, in the order in which they did. */
  runs(span: Span): Promise<EndedRun[]>;
  putRun(run: EndedRun, endedAt: Instant): Promise<void>;
  /** In the order in which they were announced. */
  news(span: Span): Promise<AdvisoryNews[]>;
  putNews(news: AdvisoryNews): Promise<void>;
}

/** Runs and news that are older are dropped: no report reaches so far back. */
export const NEWS_KEPT_MS = 30 * 86_400_000;
