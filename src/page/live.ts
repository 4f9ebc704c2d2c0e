import type { PageChange } from '../core/present/html/block.ts';
import { patchPage, setText } from './patch.ts';

/** The daemon says something every 15 s: after twice that and a moment what is shown is old. */
const STALE_MS = 35_000;
const CHECK_MS = 1_000;
/** A stream that was refused is not tried again by the browser itself. */
const AGAIN_MS = 5_000;
/**
 * A browser has six connections to one address, for all its tabs together (HTTP/1.1): six tabs that listen would leave none for a seventh,
 * nor for what is asked and done. A tab that nobody looks at listens for a moment so often; browsers may make a minute of it.
 */
const HIDDEN_MS = 20_000;
const HIDDEN_STALE_MS = 150_000;
const OLD = 'OLD: ';

/** Keeps the page as things are. `changed`: elements came or went. */
export function startLive(changed: () => void): void {
  let heardAt = performance.now();
  let heardTime = new Date();
  let triedAt = performance.now();
  let resting: ReturnType<typeof setTimeout> | null = null;
  let source = open();

  function open(): EventSource {
    const stream = new EventSource('/api/live');
    stream.addEventListener('page', (event) => {
      const change = JSON.parse(event.data) as PageChange;
      // The script of a page that was left open does not know what another version shows.
      if (change.version !== document.documentElement.dataset['version']) return location.reload();
      if (patchPage(change)) changed();
      heard();
      restIfHidden();
    });
    stream.addEventListener('alive', () => {
      heard();
      restIfHidden();
    });
    stream.addEventListener('error', () => {
      tell();
      if (stream.readyState !== EventSource.CLOSED) return;
      stream.close();
      setTimeout(() => {
        source = open();
      }, AGAIN_MS);
    });
    return stream;
  }

  function heard(): void {
    heardAt = performance.now();
    heardTime = new Date();
    tell();
  }

  function restIfHidden(): void {
    if (!document.hidden || resting !== null) return;
    source.close();
    resting = setTimeout(listenAgain, HIDDEN_MS);
  }

  function listenAgain(): void {
    if (resting === null) return;
    clearTimeout(resting);
    resting = null;
    triedAt = performance.now();
    source = open();
  }

  /** In two ways it is stale: nothing listens any more, or nothing was said for too long (a machine that slept, too). */
  function tell(): void {
    const now = performance.now();
    const isStale =
      resting !== null
        ? now - heardAt > HIDDEN_STALE_MS
        : source.readyState !== EventSource.OPEN
          ? now - Math.max(heardAt, triedAt) > 3_000
          : now - heardAt > STALE_MS;
    document.documentElement.classList.toggle('stale', isStale);
    markTitle(isStale);
    setText(
      'stale',
      isStale
        ? `Nothing was heard from headroomd since ${clockOf(heardTime)}: what is shown is as it was then. It is asked again and again; "headroomd status" tells whether it runs.`
        : '',
    );
  }

  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) listenAgain();
  });
  setInterval(tell, CHECK_MS);
}

/** A tab that nobody looks at must not tell what was as what is. */
function markTitle(isStale: boolean): void {
  const plain = document.title.replace(OLD, '');
  const title = isStale ? `${OLD}${plain}` : plain;
  if (document.title !== title) document.title = title;
}

function clockOf(time: Date): string {
  return [time.getHours(), time.getMinutes(), time.getSeconds()].map((part) => String(part).padStart(2, '0')).join(':');
}
