import { type AdviceState, advise, NO_ADVICE } from '../../../src/core/advise/advise.ts';
import { nextDue } from '../../../src/core/advise/next-due.ts';
import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { sampleAssessment, sampleVolume } from '../../core/samples.ts';
import { simulatedHistory } from '../forecast/simulated-shoots.ts';
import { arrivalPart } from './arrival-part.ts';
import { backupPart } from './backup-part.ts';
import { cardPart } from './card-part.ts';
import { dice } from './dice.ts';
import { drivePart } from './drive-part.ts';
import { DAY, HOUR, isKind, KIND_NAMES, type Kind } from './kinds.ts';
import { loadPart } from './load-part.ts';
import type { Part, Scene } from './part.ts';
import { createRecord, type Record, type Row, rowOf } from './record.ts';
import { spacePart } from './space-part.ts';
import { speedPart } from './speed-part.ts';

/** The defaults of the settings. */
const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
/** Looked at so often when nothing happens: nobody's room moves faster in here. */
const IDLE_HOURS = 1;
/** What is known of a house is too little before that to tell anything of it. */
const FIRST_DAY = 40;

/** Both sides of one house's life, by kind. */
export interface Lived {
  days: number;
  ours: Map<Kind, Row>;
  naive: Map<Kind, Row>;
  /** Announcements of kinds that are not judged here. */
  others: number;
}

/** One house over so many days, in the hands of one seed. `larger`: how large its volume is beside its shoots. */
export function live(seed: number, days: number, larger: number): Lived {
  const history = simulatedHistory(seed, 0.12, days, larger);
  const chance = (part: number) => dice(seed * 100 + part);
  const parts = [
    spacePart(history, chance(1)),
    loadPart(seed, days, chance(2)),
    speedPart(seed, days, chance(3)),
    drivePart(days, chance(4)),
    backupPart(history, chance(5)),
    cardPart(history, chance(6)),
    arrivalPart(history, chance(7)),
  ];
  const [ours, naive] = [createRecord(), createRecord()];
  const others = walk(parts, days * DAY, ours, naive);
  const rows = (record: Record) => new Map(KIND_NAMES.map((kind) => [kind, judged(kind, record, parts)]));
  return { days: days - FIRST_DAY, ours: rows(ours), naive: rows(naive), others };
}

/** Passes as the daemon makes them: when something happens, when a hold time ends, and every hour. */
function walk(parts: readonly Part[], end: number, ours: Record, naive: Record): number {
  let state: AdviceState = NO_ADVICE;
  let others = 0;
  for (let now = HOUR; now < end; ) {
    for (const part of parts) part.step(now, naive);
    const scene: Scene = { volume: {}, projects: [], arrivals: [], cards: [], backups: NO_BACKUPS };
    for (const part of parts) part.show(scene, now);
    const { volume, ...rest } = scene;
    const assessment = sampleAssessment({ ...rest, at: now, volumes: [sampleVolume(volume)] });
    const advice = advise(state, assessment, THRESHOLDS, now);
    state = advice.state;
    for (const { event, advisory } of advice.announcements) {
      if (!isKind(advisory.kind)) others += now >= FIRST_DAY * DAY ? 1 : 0;
      else if (event === 'first' || event === 'cleared')
        ours.tell(advisory.kind, advisory.subject, event === 'first', now);
      else ours.more(advisory.kind);
    }
    const step = IDLE_HOURS * HOUR;
    const idle = (Math.floor(now / step) + 1) * step;
    const due = Math.min(nextDue(state, THRESHOLDS), ...parts.map((part) => part.next(now)));
    now = Math.max(now + 1, Math.min(idle, Math.ceil(due)));
  }
  return others;
}

function judged(kind: Kind, record: Record, parts: readonly Part[]): Row {
  const isLater = ({ from = 0, at = from }: { from?: number; at?: number }) => at >= FIRST_DAY * DAY;
  const { raises, messages } = record.of(kind);
  const [part] = parts.filter(({ troubles }) => troubles[kind] !== undefined);
  if (part === undefined) throw new Error(`no part of a house tells of ${kind}`);
  const later = raises.filter(isLater);
  const share = raises.length === 0 ? 0 : later.length / raises.length;
  const said = { raises: later, messages: Math.round(messages * share) };
  return rowOf(kind, said, (part.troubles[kind] ?? []).filter(isLater), part.wouldCome?.[kind]);
}
