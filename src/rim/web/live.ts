import type { ServerResponse } from 'node:http';
import { type PageState, pageChange } from '../../core/present/html/block.ts';

/** Changes are gathered for this long, so that a burst of thousands of files is one change a second. */
const GATHER_MS = 1_000;

/** So often something is sent although nothing is new: a browser that hears nothing for longer says so. */
const ALIVE_MS = 15_000;

/** A browser that takes nothing for this long is let go; it comes back by itself. */
const STUCK_MS = 60_000;

/** More pages than that nobody has open; what else asks is told to come back later. */
const MOST = 32;

export interface Live {
  /** Sends what changes to a browser from now on. False: there are too many already, and nothing was written. */
  add(response: ServerResponse): boolean;
  /** Something may be other. Cheap; may be called at any rate. */
  noted(): void;
  /** How many browsers listen. */
  count(): number;
  close(): void;
}

interface Listener {
  response: ServerResponse;
  /** What it shows; `null`: not known. */
  shown: PageState | null;
  /** Since when it takes nothing more; `null`: it does. */
  stuckSince: number | null;
}

/**
 * Keeps open pages as things are, by server-sent events (HTML Living Standard, 9.2). One that takes what is sent slowly misses
 * states in between, never the newest. Without any open page nothing is worked out.
 */
export function createLive(state: () => PageState): Live {
  const listeners = new Set<Listener>();
  let timer: NodeJS.Timeout | null = null;
  const alive = setInterval(beat, ALIVE_MS);
  alive.unref();

  function beat(): void {
    for (const listener of listeners) {
      const { response, stuckSince } = listener;
      if (stuckSince === null) write(listener, 'event: alive\ndata: {}\n\n');
      else if (performance.now() - stuckSince > STUCK_MS) response.destroy();
    }
  }

  function write(listener: Listener, text: string): void {
    if (listener.response.write(text)) return;
    listener.stuckSince ??= performance.now();
    listener.response.once('drain', () => {
      listener.stuckSince = null;
      noted();
    });
  }

  function tell(): void {
    timer = null;
    if (listeners.size === 0) return;
    const now = state();
    // Most show the same: each change is worked out and written once.
    const texts = new Map<PageState | null, string>();
    for (const listener of listeners) {
      if (listener.stuckSince !== null) continue;
      const text = texts.get(listener.shown) ?? eventOf(listener.shown, now);
      texts.set(listener.shown, text);
      listener.shown = now;
      write(listener, text);
    }
  }

  function noted(): void {
    if (timer !== null || listeners.size === 0) return;
    timer = setTimeout(tell, GATHER_MS);
    timer.unref();
  }

  return {
    add(response) {
      if (listeners.size >= MOST) return false;
      const listener: Listener = { response, shown: null, stuckSince: null };
      response.writeHead(200, {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        'x-content-type-options': 'nosniff',
      });
      response.on('close', () => listeners.delete(listener));
      response.on('error', () => listeners.delete(listener));
      listeners.add(listener);
      listener.shown = state();
      // Come back after two seconds, then everything: what changed since the page was made is not known.
      write(listener, `retry: 2000\n${eventOf(null, listener.shown)}`);
      return true;
    },
    noted,
    count: () => listeners.size,
    close() {
      clearInterval(alive);
      if (timer !== null) clearTimeout(timer);
      for (const { response } of listeners) response.destroy();
      listeners.clear();
    },
  };
}

/** JSON has no line ends of its own. */
function eventOf(before: PageState | null, now: PageState): string {
  return `event: page\ndata: ${JSON.stringify(pageChange(before, now))}\n\n`;
}
