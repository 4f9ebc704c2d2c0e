import { setTimeout as sleep } from 'node:timers/promises';
import { messageOf } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import { dressed, ENTER_SCREEN, frame, LEAVE_SCREEN } from '../core/present/screen-frame.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { statusScreen } from '../core/present/status-screen.ts';
import { wrap } from '../core/present/text.ts';
import type { DaemonClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { markOld, storedSnapshot } from './stored-snapshot.ts';

const LOOK_MS = 1_000;

export interface WatchOptions {
  client: Pick<DaemonClient, 'ask' | 'lastSnapshot'>;
  /** What to say while no daemon runs. */
  noDaemon: string;
  json: boolean;
}

/** What was seen at one look. */
interface Look {
  /** `null`: nothing was ever seen. */
  snapshot: Snapshot | null;
  /** Its age in seconds; `null`: it is live. */
  old: number | null;
  /** Why it is not; `null`: it is. */
  why: string | null;
}

/** Where looks are shown. */
interface Show {
  look(look: Look): void;
  close(): void;
}

/**
 * `headroomd status --watch`: how things stand, each second, until SIGINT, SIGTERM or SIGHUP. A daemon that ends is waited for. On a
 * terminal one screen that is drawn over; elsewhere a screen whenever something is other, with an empty line behind each.
 */
export async function watchStatus(io: CliIo, options: WatchOptions): Promise<number> {
  const ended = new AbortController();
  const end = () => ended.abort();
  const signals = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const;
  for (const signal of signals) process.on(signal, end);
  const show = options.json ? jsonLines(io) : io.redraws ? screenOf(io) : plainScreens(io);
  const looking = createLooking(options);
  const over = new Promise<null>((resolve) => ended.signal.addEventListener('abort', () => resolve(null)));
  try {
    while (!ended.signal.aborted) {
      // A daemon that hangs is asked for long; whoever wants to leave does not wait for it.
      const look = await Promise.race([looking(), over]);
      if (look !== null) show.look(look);
      await sleep(LOOK_MS, undefined, { signal: ended.signal }).catch(() => undefined);
    }
    return exitCodes.ok;
  } finally {
    show.close();
    for (const signal of signals) process.off(signal, end);
  }
}

/** What the daemon tells, or what it last told: here, or before it ended. */
function createLooking({ client, noDaemon }: WatchOptions): () => Promise<Look> {
  let last: { snapshot: Snapshot; seenAt: number } | null = null;
  return async () => {
    const { live, why } = await ask(client, noDaemon);
    if (live !== null) {
      last = { snapshot: live, seenAt: Date.now() };
      return { snapshot: live, old: null, why: null };
    }
    if (last !== null)
      return { snapshot: markOld(last.snapshot), old: Math.max(0, Date.now() - last.seenAt) / 1000, why };
    const stored = storedSnapshot(client);
    if (stored === null || stored === 'damaged') return { snapshot: null, old: null, why };
    return { snapshot: stored.snapshot, old: stored.ageSeconds, why };
  };
}

async function ask(
  client: WatchOptions['client'],
  noDaemon: string,
): Promise<{ live: Snapshot | null; why: string | null }> {
  try {
    const live = (await client.ask('/api/snapshot')) as Snapshot | null;
    return { live, why: live === null ? `${noDaemon} It is waited for.` : null };
  } catch (error) {
    return { live: null, why: `${messageOf(error)} It is asked again.` };
  }
}

/** One screen in place of the other. */
function screenOf(io: CliIo): Show {
  let last: Look | null = null;
  const draw = (): void => {
    if (last === null) return;
    const size = { columns: io.columns, rows: io.rows ?? 24 };
    io.out(frame(textOf(last, size.columns, size.rows), size, io.colour ? dressed : undefined));
  };
  const leave = () => io.out(LEAVE_SCREEN);
  const enter = (): void => {
    io.out(ENTER_SCREEN);
    draw();
  };
  // Ctrl-Z: what stood there before comes back, until the work does.
  const pause = (): void => {
    leave();
    process.kill(process.pid, 'SIGSTOP');
  };
  process.on('SIGWINCH', draw);
  process.on('SIGCONT', enter);
  process.on('SIGTSTP', pause);
  // Whatever ends the program, a defect too.
  process.on('exit', leave);
  enter();
  return {
    look(look) {
      last = look;
      draw();
    },
    close() {
      process.off('SIGWINCH', draw);
      process.off('SIGCONT', enter);
      process.off('SIGTSTP', pause);
      process.off('exit', leave);
      leave();
    },
  };
}

function textOf({ snapshot, old, why }: Look, columns: number, rows: number | null): string {
  const width = Math.max(40, Math.min(80, columns));
  const head = why === null ? [] : [...wrap(`headroomd: ${why}`, Math.min(width, columns)), ''];
  // Nothing follows, no prompt either: the last row is free.
  const left = rows === null ? null : rows - head.length + 1;
  const screen = snapshot === null ? '' : statusScreen(snapshot, { width, rows: left, old });
  return `${head.map((line) => `${line}\n`).join('')}${screen}`;
}

/** A screen for each change. The time alone is none, nor is that an old one grows older. */
function plainScreens(io: CliIo): Show {
  let before = '';
  return {
    look(look) {
      const text = textOf(look, io.columns, null);
      const said = look.why ?? text.slice(text.indexOf('\n'));
      if (said === before) return;
      before = said;
      io.out(`${text}\n`);
    },
    close() {},
  };
}

/** The whole snapshot on one line, for each change. Nothing while there is no daemon: that is told on standard error, once. */
function jsonLines(io: CliIo): Show {
  let before = '';
  let told: string | null = null;
  return {
    look({ snapshot, why }) {
      if (why !== told && why !== null) io.err(`headroomd: ${why}\n`);
      told = why;
      if (snapshot === null || why !== null) return;
      const said = terminalJson({ ...snapshot, at: null }, 0);
      if (said !== before) io.out(`${terminalJson(snapshot, 0)}\n`);
      before = said;
    },
    close() {},
  };
}
