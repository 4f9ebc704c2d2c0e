import type { PageChange } from '../core/present/html/block.ts';
import { patchPage, setText } from './patch.ts';

/** The daemon says something every 15 s: after twice that and a moment what is shown is old. */
const STALE_MS = 35_000;
const CHECK_MS = 1_000;
/** A stream that was refused is not tried again by the browser itself. */
const AGAIN_MS = 5_000;
const OLD = 'OLD: ';

/** Keeps the page as things are. `changed`: elements came or went. */
export function startLive(changed: () => void): void {
  let heardAt = performance.now();
  let heardTime = new Date();
  let source = open();

  function open(): EventSource {
    const stream = new EventSource('/api/live');
    stream.addEventListener('page', (event) => {
      const change = JSON.parse(event.data) as PageChange;
      // The script of a page that was left open does not know what another version shows.
      if (change.version !== document.documentElement.dataset['version']) return location.reload();
      if (patchPage(change)) changed();
      heard();
    });
    stream.addEventListener('alive', heard);
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

  /** In two ways it is stale: nothing listens any more, or nothing was said for too long (a machine that slept, too). */
  function tell(): void {
    const isStale =
      source.readyState !== EventSource.OPEN
        ? performance.now() - heardAt > 3_000
        : performance.now() - heardAt > STALE_MS;
    document.documentElement.classList.toggle('stale', isStale);
    markTitle(isStale);
    setText(
      'stale',
      isStale
        ? `Nothing was heard from headroomd since ${clockOf(heardTime)}: what is shown is as it was then. It is asked again and again; "headroomd status" tells whether it runs.`
        : '',
    );
  }

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
