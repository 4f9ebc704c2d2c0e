import { settle } from '../../../src/core/intake/settle.ts';
import {
  newUnit,
  type SettleAction,
  type SettleEvent,
  type SettleState,
} from '../../../src/core/intake/settle-state.ts';
import type { SettleLimits } from '../../../src/core/intake/weigh.ts';
import type { FileStat } from '../../../src/core/model.ts';
import type { Evidence, Wholeness, Writers } from '../../../src/core/root-port.ts';

/** A file on an imagined disk. */
export interface FakeFile {
  path: string;
  size: number;
  allocated: number;
  /** Counts content and metadata changes; becomes the file's times. */
  changes: number;
  /** Bytes of content really there. */
  written: number;
  open: boolean;
  exists: boolean;
}

/** One thing a copying program does, in seconds from the start. `silent`: no event comes of it (mapped memory, remote). */
export interface Deed {
  at: number;
  run: (file: FakeFile) => void;
  silent?: boolean;
}

export interface Stage {
  path: string;
  deeds: readonly Deed[];
  /** What a structure check would say of the file as it lies there. */
  wholeness: (file: FakeFile) => Wholeness;
  /** Writers cannot be seen and no events come: the folder is read every 5 s. */
  remote?: boolean;
  limits: SettleLimits;
  /** Give up after this many seconds. */
  until: number;
}

export interface Played {
  /** When each decision that all is complete was taken, in seconds. */
  complete: number[];
  actions: { at: number; action: SettleAction }[];
  state: SettleState;
  looks: number;
}

const EVENT_DELAY = 0.002;
const LOOK_TAKES = 0.02;
const PROBE_TAKES = 0.2;
const POLL_EVERY = 5;
/** A writer that was seen is looked after, and its close told. */
const CLOSE_TOLD_AFTER = 0.25;

interface Coming {
  at: number;
  run: () => void;
}

/** Plays a copy against the real decisions in imagined time: events, looks and probes take their time as real ones do. */
export function play(stage: Stage): Played {
  const file: FakeFile = {
    path: stage.path,
    size: 0,
    allocated: 0,
    changes: 0,
    written: 0,
    open: false,
    exists: false,
  };
  const coming: Coming[] = [];
  const played: Played = { complete: [], actions: [], state: newUnit(), looks: 0 };
  let now = 0;
  const later = (delay: number, run: () => void) => coming.push({ at: now + delay, run });

  const handle = (event: SettleEvent) => {
    const step = settle(played.state, event, now, stage.limits);
    played.state = step.state;
    if (step.action.do !== 'wait') played.actions.push({ at: now, action: step.action });
    obey(step.action);
  };
  const obey = (action: SettleAction) => {
    if (action.do === 'inspect') {
      played.looks += 1;
      later(LOOK_TAKES / 2, () => {
        const evidence = [evidenceOf(file, stage)];
        later(LOOK_TAKES / 2, () => handle({ type: 'evidence', generation: action.generation, evidence }));
      });
    }
    if (action.do === 'probe') {
      played.complete.push(now);
      later(PROBE_TAKES, () => handle({ type: 'probed', generation: action.generation, outcome: { ok: true } }));
    }
  };
  const seen = () => (file.exists ? handle({ type: 'seen', files: [statOf(file)] }) : undefined);
  const poll = () => {
    seen();
    if (now + POLL_EVERY < stage.until) later(POLL_EVERY, poll);
  };

  for (const deed of stage.deeds) {
    coming.push({
      at: deed.at,
      run: () => {
        const { open } = file;
        deed.run(file);
        if (open && !file.open && !stage.remote && played.state.openLooks > 0) later(CLOSE_TOLD_AFTER, seen);
        if (!deed.silent && !stage.remote) later(EVENT_DELAY, seen);
      },
    });
  }
  if (stage.remote) later(0.7, poll);
  for (;;) {
    const next = coming.toSorted((a, b) => a.at - b.at)[0];
    const wake =
      played.state.asked === null && played.state.generation > 0 ? played.state.wakeAt : Number.POSITIVE_INFINITY;
    if (Math.min(next?.at ?? wake, wake) > stage.until || (next === undefined && wake === Number.POSITIVE_INFINITY))
      return played;
    if (next === undefined || wake < next.at) {
      now = Math.max(now, wake);
      handle({ type: 'tick' });
    } else {
      coming.splice(coming.indexOf(next), 1);
      now = next.at;
      next.run();
    }
  }
}

function statOf(file: FakeFile): FileStat {
  const times = BigInt(file.changes);
  return {
    path: file.path,
    size: file.size,
    allocated: file.allocated,
    mtimeNs: times,
    ctimeNs: times,
    dev: 1n,
    ino: 7n,
    nlink: 1,
  };
}

function evidenceOf(file: FakeFile, stage: Stage): Evidence {
  const writers: Writers = stage.remote ? 'unknown' : file.open ? 'open' : 'none';
  const stat = file.exists ? statOf(file) : null;
  return { path: file.path, stat, error: null, writers, wholeness: stage.wholeness(file), detail: null };
}
