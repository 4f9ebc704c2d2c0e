import type { Ratio } from '../model.ts';
import { formatDuration, formatFrameRate } from '../units.ts';
import type { MulticamGroup } from './assessment.ts';
import type { ClipSpan, ClockBasis } from './spans.ts';
import { groupLoad } from './stream-load.ts';

/** Below this confidence the angles are called guessed. */
const GUESSED_BELOW = 0.6;
/** An overlap shorter than this is two takes that touch, unless it is half of the shorter clip. */
const SHORTEST_OVERLAP = 2;

/** How far each clock is believed to put clips of different cameras side by side (judgement, no source). */
const CLOCKS: Record<ClockBasis, { words: string; confidence: number }> = {
  timecode: { words: 'same timecode', confidence: 0.95 },
  'timecode-undated': { words: 'same timecode, recording day not known,', confidence: 0.6 },
  'recorded-at': { words: 'same recording time', confidence: 0.8 },
  'recorded-at-local': { words: 'same recording time, zone not known,', confidence: 0.75 },
  'file-time': { words: 'same time by when the files were written', confidence: 0.6 },
};

/** A clock that was set right is believed a little less; by a few seconds, as people press their buttons, is no matter. */
const SET_BACK = 0.9;
const A_FEW_SECONDS = 20;

/**
 * Multicam groups among spans: maximal stretches of time in which clips of two or more cameras run. Cameras are
 * counted, not clips, and of one camera only the heaviest clip is played. `angles` and `cameras` are those of the
 * moment with most cameras; `demandBps`, `peakBps`, `largestBps` and `members` those of the heaviest moment.
 * A sweep over the 2n boundaries; those of one instant are taken together, so that clips that only meet do not overlap.
 * O(n log n + n k) for k clips at once.
 */
export function findMulticam(spans: readonly ClipSpan[]): MulticamGroup[] {
  const timelines = Map.groupBy(spans, (span) => span.timeline);
  return [...timelines.values()].flatMap((onOne) => sweep(onOne).filter(isLongEnough).map(groupOf));
}

/** The heaviest clip of each camera at one moment. */
type Moment = Map<string, ClipSpan>;

interface Run {
  start: number;
  end: number;
  members: ClipSpan[];
  most: Moment;
  heaviest: Moment;
  heaviestBps: number;
}

interface Boundary {
  at: number;
  span: ClipSpan;
  starts: boolean;
}

function sweep(spans: readonly ClipSpan[]): Run[] {
  const runs: Run[] = [];
  const active = new Set<ClipSpan>();
  let run: Run | null = null;
  const boundaries = boundariesOf(spans);
  for (let index = 0; index < boundaries.length; ) {
    const at = boundaries[index]?.at ?? 0;
    const started: ClipSpan[] = [];
    for (let next = boundaries[index]; next?.at === at; next = boundaries[++index]) {
      if (next.starts) active.add(next.span);
      else active.delete(next.span);
      if (next.starts) started.push(next.span);
    }
    const moment = momentOf(active);
    if (moment.size >= 2) run = extend(run, at, moment, run === null ? [...active] : started);
    if (moment.size < 2 && run !== null) {
      runs.push({ ...run, end: at });
      run = null;
    }
  }
  return runs;
}

function boundariesOf(spans: readonly ClipSpan[]): Boundary[] {
  const boundaries: Boundary[] = [];
  for (const span of spans) {
    if (span.camera === null || !(span.endSeconds > span.startSeconds)) continue;
    boundaries.push({ at: span.startSeconds, span, starts: true }, { at: span.endSeconds, span, starts: false });
  }
  return boundaries.sort((one, other) => one.at - other.at);
}

function momentOf(active: Iterable<ClipSpan>): Moment {
  const moment: Moment = new Map();
  for (const span of active) {
    const known = moment.get(span.camera ?? '');
    if (known === undefined || span.rateBps > known.rateBps) moment.set(span.camera ?? '', span);
  }
  return moment;
}

function extend(run: Run | null, at: number, moment: Moment, joined: ClipSpan[]): Run {
  const bps = groupLoad(streamsOf(moment));
  if (run === null) return { start: at, end: at, members: joined, most: moment, heaviest: moment, heaviestBps: bps };
  run.members.push(...joined);
  if (moment.size > run.most.size) run.most = moment;
  if (bps > run.heaviestBps) {
    run.heaviest = moment;
    run.heaviestBps = bps;
  }
  return run;
}

function streamsOf(moment: Moment): { meanBps: number; sdBps: number }[] {
  return [...moment.values()].map((span) => ({ meanBps: span.rateBps, sdBps: span.sdBps }));
}

function isLongEnough(run: Run): boolean {
  const shortest = run.members.reduce((least, span) => Math.min(least, span.endSeconds - span.startSeconds), Infinity);
  return run.end - run.start >= Math.min(SHORTEST_OVERLAP, shortest / 2);
}

function groupOf(run: Run): MulticamGroup {
  const streams = streamsOf(run.heaviest);
  const frameRates = distinctRates(run.members);
  const confidence = confidenceOf(run);
  const toWall = run.members.find((span) => span.toWallSeconds !== null)?.toWallSeconds ?? null;
  return {
    startsAt: toWall === null ? null : Math.round((run.start + toWall) * 1000),
    endsAt: toWall === null ? null : Math.round((run.end + toWall) * 1000),
    angles: run.most.size,
    cameras: [...run.most.keys()].sort(),
    demandBps: streams.reduce((sum, stream) => sum + stream.meanBps, 0),
    peakBps: run.heaviestBps,
    largestBps: Math.max(...streams.map((stream) => stream.meanBps)),
    confidence,
    evidence: evidenceOf(run, frameRates, confidence),
    frameRates,
    cameraRates: frameRates.length < 2 ? [] : ratesOfCameras(run.members),
    members: [...run.heaviest.values()].map(memberOf),
    readyAt: run.members.reduce((latest, span) => Math.max(latest, span.readyAt), 0),
  };
}

function memberOf({ camera, unit, path, rateBps }: ClipSpan): MulticamGroup['members'][number] {
  return { camera: camera ?? '', unit, path, bps: rateBps, proxy: null };
}

function confidenceOf(run: Run): number {
  const spans = [...run.most.values()];
  const clock = Math.min(...spans.map((span) => CLOCKS[span.clockBasis].confidence));
  const set = spans.some(wasSet) ? SET_BACK : 1;
  return clock * set * Math.min(...spans.map((span) => span.cameraConfidence));
}

function evidenceOf(run: Run, rates: readonly Ratio[], confidence: number): string {
  const spans = [...run.most.values()].sort((one, other) => ((one.camera ?? '') < (other.camera ?? '') ? -1 : 1));
  const reels = spans.map((span) => span.reel);
  const names = reels.includes(null)
    ? `cameras ${spans.map((span) => span.camera).join(', ')}`
    : `reels ${reels.join(', ')}`;
  const rate = rates.length === 0 ? '' : ` at ${rates.map(formatFrameRate).join(' and ')} fps`;
  const set = spans.filter(wasSet).map(setWords);
  const guessed = confidence < GUESSED_BELOW ? ['angles guessed'] : [];
  return [`${clockWords(spans)} on ${names}${rate}`, ...set, ...guessed].join('; ');
}

function clockWords(spans: readonly ClipSpan[]): string {
  const bases = [...new Set(spans.map((span) => span.clockBasis))];
  const [only] = bases;
  if (bases.length === 1 && only !== undefined) return CLOCKS[only].words;
  return bases.includes('timecode') ? 'same time, by timecode and recording times,' : 'same time, by recording times,';
}

function wasSet({ setBackSeconds }: ClipSpan): boolean {
  return Math.abs(setBackSeconds) > A_FEW_SECONDS;
}

function setWords({ camera, setBackSeconds }: ClipSpan): string {
  const by = formatDuration(Math.abs(setBackSeconds));
  return `clock of camera ${camera} set ${by} ${setBackSeconds > 0 ? 'back' : 'forward'}`;
}

function distinctRates(spans: readonly ClipSpan[]): Ratio[] {
  const rates = new Map<string, Ratio>();
  for (const { frameRate } of spans) {
    if (frameRate !== null) rates.set(formatFrameRate(frameRate), frameRate);
  }
  return [...rates.values()];
}

function ratesOfCameras(spans: readonly ClipSpan[]): MulticamGroup['cameraRates'] {
  const byCamera = Map.groupBy(spans, ({ camera }) => camera ?? '');
  return [...byCamera.keys()]
    .sort()
    .flatMap((camera) => distinctRates(byCamera.get(camera) ?? []).map((frameRate) => ({ camera, frameRate })));
}
