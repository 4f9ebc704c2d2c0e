import { formatBytes, formatCount, formatDuration, formatFrameRate, formatRate, listWords } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import type { ArrivalSnapshot } from './snapshot.ts';
import type { FormatSnapshot, MulticamSnapshot, ProjectSnapshot } from './snapshot-project.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';
import { AREA_WORDS, ARRIVAL_WORDS, VOLUME_STATE_WORDS } from './wording.ts';

/** What a volume's state means, and why, where that is known; `null` of one that is live. */
export function stateSentence({ state, stateDetail }: VolumeSnapshot): string | null {
  const words = VOLUME_STATE_WORDS[state];
  if (words === null || stateDetail === null) return words;
  return words.replace('.', () => ` (${stateDetail}).`);
}

/** How long, and how much, until there is no room? */
export function roomSentence({ capacity }: VolumeSnapshot): string {
  const { roomBytes, reserveBytes, availableBytes, usedBytes, totalBytes } = capacity;
  if (roomBytes === null || reserveBytes === null || availableBytes === null) return 'Not known.';
  if (roomBytes < 0) {
    return `None: ${formatBytes(availableBytes)} left to write, ${formatBytes(-roomBytes)} into the ${formatBytes(reserveBytes)} kept free.`;
  }
  const lasts = capacity.footageSecondsLeft;
  const cameras = capacity.footageCameras ?? 1;
  const by = cameras > 1 ? ` by ${formatCount(cameras, 'camera')} at once` : '';
  const time = lasts === null ? '' : `, about ${formatDuration(lasts)} of recording${by},`;
  const used = usedBytes === null ? '' : `; ${usedWords(usedBytes, availableBytes, totalBytes)}`;
  const until = reserveBytes === 0 ? 'it is full' : `the ${formatBytes(reserveBytes)} kept free is touched`;
  return `${formatBytes(roomBytes)}${time} until ${until}${used}.`;
}

/** What the room that the file system tells does not mean. A snapshot of an earlier version does not tell. */
export function roomNotes({ capacity: { notes = [] } }: VolumeSnapshot): readonly string[] {
  return notes;
}

/** What left the volume lately; `null`: nothing did. A snapshot stored by an earlier version does not tell. */
export function removedSentence({ capacity: { removedLastDay: removed } }: VolumeSnapshot): string | null {
  if (removed === undefined || removed === null || removed.files === 0) return null;
  const footage = removed.footageBytes > 0 ? `, ${formatBytes(removed.footageBytes)} of it footage` : '';
  return `Removed in the last 24 hours: ${formatCount(removed.files, 'file')}, ${formatBytes(Math.max(0, removed.bytes))}${footage}.`;
}

/** Of what a user can write at all; a file system may hold some of itself back. */
function usedWords(used: number, available: number, total: number | null): string {
  const writable = used + available;
  const held = total === null ? 0 : total - writable;
  const back = held > writable / 20 ? ` (the file system holds ${formatBytes(held)} back)` : '';
  return `${formatBytes(used)} of ${formatBytes(writable)} in use${back}`;
}

/** What would I lose if this volume failed now? `at` is the snapshot's instant. */
export function lossSentence({ safety }: VolumeSnapshot, at: IsoTime): string {
  const { exposedBytes, exposedClips, exposedSeconds, exposedSince } = safety;
  if (exposedBytes === null || exposedClips === null) {
    return 'Not known: what is recorded of copies is incomplete. Count everything as not copied, and keep the cards.';
  }
  if (exposedBytes === 0 && exposedClips === 0) return 'No footage here waits for a copy, as far as is known.';
  const since = exposedSince === null ? '' : `, the oldest since ${shortTime(exposedSince, at)}`;
  return `${exposedWords(exposedBytes, exposedClips, exposedSeconds)} fewer verified copies than you want${since}. Keep the cards.`;
}

/** Files that are no clip yet count too. */
function exposedWords(bytes: number, clips: number, seconds: number | null): string {
  if (clips === 0) return `${formatBytes(bytes)} of footage, no whole clip among it yet, has`;
  const time = seconds === null ? '' : `, ${formatDuration(seconds)}`;
  return `${formatCount(clips, 'clip')} (${formatBytes(bytes)}${time}) ${clips === 1 ? 'has' : 'have'}`;
}

/** Size, formats, multicam and copies of a project. `at` is the snapshot's instant. */
export function projectSentence(project: ProjectSnapshot, at: IsoTime): string {
  if (project.gone) return `Nothing of it is left on ${project.volume}: ${onlyOnShelfWords(project, at)}.`;
  const size = `${formatBytes(project.bytes)}, ${formatCount(project.clips, 'clip')}, ${formatDuration(project.durationSeconds)}`;
  const [main, ...others] = project.formats;
  const formats =
    main === undefined ? '' : ` ${others.length === 0 ? 'All' : 'Mostly'} ${formatWords(main)}${otherFormats(others)}.`;
  const heaviest = project.multicam.toSorted((one, other) => other.peakBps - one.peakBps)[0];
  const multicam = heaviest === undefined ? [] : [multicamWords(heaviest)];
  return [
    `${size}.${formats}`,
    ...growthSentences(project),
    ...multicam,
    ...madeSentences(project),
    ...againSentences(project),
    ...twiceSentences(project),
    ...copiesSentences(project, at),
  ].join(' ');
}

/** How many copies its footage has, and what of it is left on shelves alone. A snapshot of an earlier version does not tell. */
function copiesSentences(project: ProjectSnapshot, at: IsoTime): string[] {
  const { verifiedCopies, onlyOnShelfFiles } = project.safety;
  return [
    ...(verifiedCopies == null || verifiedCopies === 0
      ? []
      : [
          `All footage of it has ${verifiedCopies === 1 ? 'a verified copy' : `${verifiedCopies} verified copies on different drives`}.`,
        ]),
    ...(onlyOnShelfFiles == null || onlyOnShelfFiles === 0
      ? []
      : [`No longer on ${project.volume}: ${onlyOnShelfWords(project, at)}.`]),
  ];
}

function onlyOnShelfWords({ safety }: ProjectSnapshot, at: IsoTime): string {
  const { onlyOnShelf, onlyOnShelfFiles, onlyOnShelfFootage, onlyOnShelfAt, onlyOnShelfReadAt } = safety;
  const files = onlyOnShelfFiles ?? 0;
  const footage =
    (onlyOnShelfFootage ?? 0) === onlyOnShelf
      ? ' of footage'
      : `, ${formatBytes(onlyOnShelfFootage ?? 0)} of it footage`;
  const read =
    onlyOnShelfReadAt === null
      ? 'never read back from its medium'
      : `each read back at ${shortTime(onlyOnShelfReadAt, at)} or later`;
  return `${formatCount(files, 'file')} (${formatBytes(onlyOnShelf ?? 0)}${footage}) ${files === 1 ? 'is' : 'are'} only on ${listWords(onlyOnShelfAt)}, ${read}; "headroomd backup restore-list" tells how to bring ${files === 1 ? 'it' : 'them'} back`;
}

/** On which days it grew, and by how much; of one day the size has said it. A snapshot of an earlier version does not tell. */
function growthSentences({ shootDays = [], shootDayBytes }: ProjectSnapshot): string[] {
  const [first, last] = [shootDays[0], shootDays.at(-1)];
  if (first === undefined || last === undefined || shootDays.length < 2) return [];
  return [
    `Footage came on ${formatCount(shootDays.length, 'day')} from ${first.day} to ${last.day}, about ${formatBytes(shootDayBytes ?? 0)} a day.`,
  ];
}

/** What can be made again, as room; of little nothing is said. A snapshot of an earlier version does not tell. */
function againSentences({ bytes, regenerable }: ProjectSnapshot): string[] {
  if (regenerable === undefined) return [];
  const { cacheBytes, shootDays } = regenerable;
  const caches = cacheBytes > WORTH_SAYING * bytes ? formatBytes(cacheBytes) : null;
  if (shootDays === null || shootDays < LEAST_DAYS)
    return caches === null ? [] : [`${caches} are caches, which programs make again.`];
  const days = shootDays === 1 ? 'a day' : `${shootDays} days`;
  const included = caches === null ? '' : `, ${caches} of caches included,`;
  return [`What can be made again${included} takes the room of about ${days} of shooting.`];
}

/** Share of a project, and days of shooting. */
const WORTH_SAYING = 0.1;
const LEAST_DAYS = 0.5;

/** Which proxies and renders are left out of what must have copies, and which are not. */
function madeSentences({ made: { bytes, replaceableBytes, exposedBytes } }: ProjectSnapshot): string[] {
  const others = bytes - replaceableBytes;
  const exposed = exposedBytes ?? others;
  const counted =
    exposed >= others
      ? 'counted as exposed'
      : exposed === 0
        ? 'they have their verified copies'
        : `${formatBytes(exposed)} without their verified copies count as exposed`;
  return [
    ...(replaceableBytes > 0
      ? [
          `${formatBytes(replaceableBytes)} of proxies and renders can be made again from footage that is here; not counted as exposed.`,
        ]
      : []),
    ...(others > 0
      ? [`Of ${formatBytes(others)} of proxies and renders it is not known what they were made from; ${counted}.`]
      : []),
  ];
}

function twiceSentences({ twice }: ProjectSnapshot): string[] {
  if (twice === null || twice.takes === 0) return [];
  const many = twice.takes === 1 ? '1 take seems' : `${formatCount(twice.takes, 'take')} seem`;
  return [
    `${many} to lie here twice (${formatBytes(twice.bytes)}); not counted as copies, for nobody has compared them.`,
  ];
}

/** What lies on a volume outside its projects; `null` when nothing does. */
export function outsideSentence({ name, areas }: VolumeSnapshot): string | null {
  const parts = areas
    .filter(({ area, bytes }) => area !== 'project' && bytes > 0)
    .map(({ area, bytes }) => `${formatBytes(bytes)} ${AREA_WORDS[area]}`);
  return parts.length === 0 ? null : `${name}, outside projects: ${parts.join(', ')}.`;
}

/** How far an arrival has come and what it waits for. */
export function arrivalSentence(arrival: ArrivalSnapshot, at: IsoTime): string {
  const speed = arrival.bytesPerSecond === null ? '' : ` at ${formatRate(arrival.bytesPerSecond)}`;
  const detail = arrival.detail === null ? '' : ` (${arrival.detail})`;
  return `${formatBytes(arrival.bytes)}${speed}, since ${shortTime(arrival.since, at)}: ${ARRIVAL_WORDS[arrival.reason].means}${detail}`;
}

/** `14:05` on the day of `at`, else `2027-03-03 14:05`. Both as the snapshot's zone has them. */
export function shortTime(time: IsoTime, at: IsoTime): string {
  const clock = time.slice(11, 16);
  return time.slice(0, 10) === at.slice(0, 10) ? clock : `${time.slice(0, 10)} ${clock}`;
}

function formatWords(format: FormatSnapshot): string {
  const each = format.clips === 1 ? '' : ' each';
  const rate = format.bitrateBps === null ? '' : `, ${formatRate(format.bitrateBps)}${each}`;
  return `${formatName(format)} (${formatCount(format.clips, 'clip')}${rate})`;
}

/** `ProRes 3840x2160 at 25 fps`, as far as it is known. */
function formatName(format: Pick<FormatSnapshot, 'codec' | 'width' | 'height' | 'frameRate'>): string {
  const raster = format.width === null || format.height === null ? '' : ` ${format.width}x${format.height}`;
  const rate = format.frameRate === null ? '' : ` at ${formatFrameRate(format.frameRate)} fps`;
  return `${format.codec ?? 'an unknown codec'}${raster}${rate}`;
}

function otherFormats(others: readonly FormatSnapshot[]): string {
  const [next, ...rest] = others;
  if (next === undefined) return '';
  return `, then ${formatName(next)}${rest.length === 0 ? '' : ` and ${formatCount(rest.length, 'more format')}`}`;
}

function multicamWords(group: MulticamSnapshot): string {
  const proxies = group.proxiesBps == null ? '' : `, ${formatRate(group.proxiesBps)} as proxies`;
  return `Multicam: up to ${group.angles} angles at once, ${formatRate(group.peakBps)} at the peak${proxies} (${group.evidence}).`;
}
