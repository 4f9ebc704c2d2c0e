import { formatBytes, formatDuration, formatRate, formatShare } from '../../units.ts';
import type { IsoTime } from '../iso-time.ts';
import { dayWords } from '../overrun-words.ts';
import { stateSentence } from '../sentences.ts';
import type { VolumeSnapshot } from '../snapshot-volume.ts';
import { barHtml, escapeHtml } from './elements.ts';

/** One of the three headrooms of a volume: few words to be read from afar, and what they mean. */
interface Headroom {
  figure: string;
  means: string;
  /** Short of what is needed. */
  isShort: boolean;
  bar: string;
}

/**
 * The three headrooms of a volume in one sentence, its figures large: can I play this, how long have I got, what would I lose? Each leads to
 * its section.
 */
export function glanceHtml(volume: VolumeSnapshot, at: IsoTime): string {
  const state = stateSentence(volume);
  const parts = [
    ['speed', speedOf(volume)],
    ['capacity', roomOf(volume, at)],
    ['safety', safetyOf(volume)],
  ] as const;
  // From across the room the figure is read, not the sentence above it.
  const isOld = volume.stale && volume.state !== 'starting';
  const seen = (one: Headroom): Headroom =>
    isOld ? { ...one, means: `${one.means}, when it was last seen`, isShort: true } : one;
  const said = parts.map(([section, headroom], place) =>
    partHtml(section, seen(headroom), place === parts.length - 1 ? '.' : ';'),
  );
  return `${state === null ? '' : `<p class="state"><b>${escapeHtml(volume.name)}</b> ${escapeHtml(state)}</p>`}<p class="three"><b>${escapeHtml(volume.name)}:</b> ${said.join(' ')}</p>`;
}

function partHtml(section: string, { figure, means, isShort, bar }: Headroom, end: string): string {
  const mark = isShort ? '<span class="mark">!</span> ' : '';
  return `<span${isShort ? ' class="short"' : ''}><a href="#${section}">${mark}${escapeHtml(figure)}</a> ${escapeHtml(means)}${end}${bar}</span>`;
}

function speedOf({ name, speed }: VolumeSnapshot): Headroom {
  const { demandBps, readBudgetBps } = speed;
  if (readBudgetBps === null) return bare('not known', 'how fast it is', false);
  if (demandBps === null)
    return bare(formatRate(readBudgetBps), 'may be asked for, and nothing is known to need it', false);
  const isShort = demandBps > readBudgetBps;
  const end = Math.max(demandBps, readBudgetBps * 1.25);
  const bar = barHtml(demandBps, readBudgetBps, end, `${name}: needed, against what may be asked for`);
  return isShort
    ? { figure: formatRate(demandBps - readBudgetBps), means: 'too much is asked of it', isShort, bar }
    : { figure: formatShare(1 - demandBps / readBudgetBps), means: 'of its speed to spare', isShort, bar };
}

function roomOf({ name, capacity }: VolumeSnapshot, at: IsoTime): Headroom {
  const { roomBytes, reserveBytes, usedBytes, availableBytes, overrun, footageSecondsLeft } = capacity;
  if (roomBytes === null || reserveBytes === null || usedBytes === null || availableBytes === null)
    return bare('not known', 'how much room it has', false);
  const writable = usedBytes + availableBytes;
  const bar = barHtml(usedBytes, writable - reserveBytes, writable, `${name}: in use, against the line of the reserve`);
  if (roomBytes <= 0)
    return { figure: formatBytes(availableBytes), means: 'left, and its reserve is in use', isShort: true, bar };
  const day = overrun?.at50 ?? null;
  if (day !== null)
    return {
      figure: `until about ${dayWords(day, at)}`,
      means: `before its reserve is reached`,
      isShort: (overrun?.within72h ?? 0) >= 0.5,
      bar,
    };
  if (footageSecondsLeft !== null)
    return { figure: formatDuration(footageSecondsLeft), means: 'of recording until its reserve', isShort: false, bar };
  return { figure: formatBytes(roomBytes), means: 'of room until its reserve', isShort: false, bar };
}

function safetyOf({ name, safety }: VolumeSnapshot): Headroom {
  const { exposedBytes, exposedClips, hasBackup, nights = [] } = safety;
  if (exposedBytes === null || exposedClips === null) return bare('not known', 'what has copies', true);
  const night = nights.toSorted(
    (one, other) => one.windowSeconds - one.seconds - (other.windowSeconds - other.seconds),
  )[0];
  const bar =
    night === undefined || night.bytes === 0
      ? ''
      : barHtml(
          night.seconds,
          night.windowSeconds,
          Math.max(night.seconds, night.windowSeconds * 1.25),
          `${name}: what is left to copy, against the window of its night`,
        );
  if (exposedBytes === 0 && exposedClips === 0)
    return { figure: 'nothing', means: 'waits for a copy, as far as is known', isShort: false, bar };
  return {
    figure: formatBytes(exposedBytes),
    means: `without enough verified copies${hasBackup === false ? ', and no backup is configured' : ''}`,
    isShort: night?.fits === false || hasBackup === false,
    bar,
  };
}

function bare(figure: string, means: string, isShort: boolean): Headroom {
  return { figure, means, isShort, bar: '' };
}
