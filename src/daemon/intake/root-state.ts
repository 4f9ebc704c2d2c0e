import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { RootEvent, RootState, WatchLimit } from '../../core/root-port.ts';
import { formatCount } from '../../core/units.ts';

/** What is told of a root's state: not `live` before its folders were all read once, nor while its folder is strangely empty. */
export interface RootStateView {
  /** The root's own word. Returns true when the root is there again after it was not. */
  told(state: RootState, detail: string | null): boolean;
  swept(): void;
  /** The root folder is empty although `known` files were in it. Returns true while it is held for another folder. */
  emptied(known: number): boolean;
  filled(): void;
  /** Something about watching it: told in the log, or kept. */
  trouble(event: Extract<RootEvent, { type: 'trouble' | 'watch-limit' }>): void;
  current(): RootNow;
}

/** `watchLimit`: why folders of it are not watched; left out where all are. */
export interface RootNow {
  state: RootState;
  detail: string | null;
  watchLimit?: WatchLimit;
}

export function createRootState(volume: { name: string; path: string }, log: Log): RootStateView {
  let root: { state: RootState; detail: string | null } = { state: 'starting', detail: null };
  let everSwept = false;
  let empty: string | null = null;
  let wasAway = false;
  let limit: WatchLimit | null = null;
  const name = display(volume.name);

  function tell(state: RootState, detail: string | null): void {
    const why = detail === null ? '' : `: ${display(detail)}`;
    if (state === 'live') log.info({ volume: volume.name, state }, `${name} can be read${wasAway ? ' again' : ''}.`);
    else if (state !== 'starting') {
      log.warn(
        { volume: volume.name, state },
        `${name} (${display(volume.path)}) is ${state}${why}. What was known of it is kept.`,
      );
    }
  }

  return {
    told(state, detail) {
      if (state === root.state && detail === root.detail) return false;
      root = { state, detail };
      // It is watched anew.
      limit = null;
      tell(state, detail);
      const back = state === 'live' && wasAway;
      wasAway = state === 'absent' || state === 'hung' || (wasAway && state === 'starting');
      return back;
    },
    swept() {
      everSwept = true;
    },
    emptied(known) {
      if (known === 0) return false;
      if (empty === null) {
        empty = `its folder is empty, but ${formatCount(known, 'file')} of it are known: is the right drive mounted there?`;
        tell('absent', empty);
      }
      return true;
    },
    filled() {
      if (empty !== null) log.info({ volume: volume.name }, `${name} has content again.`);
      empty = null;
    },
    trouble(event) {
      if (event.type === 'trouble') log.warn({ volume: volume.name, trouble: event.kind }, event.detail);
      else limit = event.limit;
    },
    current() {
      if (root.state !== 'live') return root;
      if (empty !== null) return { state: 'absent', detail: empty };
      if (!everSwept) return { state: 'starting', detail: null };
      return limit === null ? root : { ...root, watchLimit: limit };
    },
  };
}
