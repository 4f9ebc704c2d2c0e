import type { Assessment, ProjectAssessment, VolumeAssessment } from '../assess/assessment.ts';
import { keepsDeleted } from '../assess/capacity-notes.ts';
import { type Copied, NOTHING_COPIED } from '../backup/project-copies.ts';
import { HOUR_MS } from '../forecast/growth.ts';
import type { Instant } from '../model.ts';
import { display } from '../present/escape.ts';
import type { ProjectSum } from '../store-ports.ts';
import { formatBytes, formatCount, isoWithOffset, listWords } from '../units.ts';
import type { Remedy } from './advisory.ts';
import { copiedWords, LOOK_FIRST, lackingWords, together } from './copied-words.ts';

/** More than this is no help but a list. */
const AT_MOST = 3;
/** Projects named in one remedy. */
const MOST_NAMED = 3;
/** A project to which no footage came for so long is probably through. */
const DORMANT_MS = 30 * 86_400_000;

/** A way to gain something, before it is put in words. `effort`: lower is easier. */
interface Option {
  gain: number;
  effort: number;
  /** Bytes that could be gained, had they their copies: told where nothing can be. */
  lacking: number;
  action: string;
  /** Instead of the room that is gained, where none is. */
  lacks?: string;
  /** It rests on copies, which are to be looked at first. */
  restsOnCopies?: boolean;
}

interface Asked {
  volume: VolumeAssessment;
  assessment: Assessment;
}

/**
 * Ways to get `shortBytes` back on a volume: caches, what can be made again, trash, moving a project away. First those that suffice (easiest,
 * then the smallest), then the rest by what they give, then what keeps others from giving anything. Footage, and all else that cannot be made
 * again, counts only as far as it has all its verified copies, each read back lately. `shootDayBytes`: what a day of shooting brings, where days
 * are what is gained.
 */
export function roomRemedies(
  volume: VolumeAssessment,
  assessment: Assessment,
  shortBytes: number,
  shootDayBytes: number | null = null,
): Remedy[] {
  const space = volume.capacity?.space;
  if (space === undefined) return [];
  const kept = keepsDeleted(volume.fileSystem) ? ' (not while snapshots hold it)' : '';
  const effect = (bytes: number) => {
    const days = shootDayBytes === null ? '' : `, ${formatDays(bytes / shootDayBytes)} more`;
    const left = `frees ${formatBytes(bytes)}${kept} and leaves ${formatBytes(space.availableBytes + bytes)} to write${days}`;
    return bytes < shortBytes ? `${left}; ${formatBytes(shortBytes - bytes)} are still missing` : left;
  };
  const options = optionsOf({ volume, assessment });
  return bestFirst(options, shortBytes).map(({ gain, action, lacks, restsOnCopies }) => ({
    action,
    effect: `${lacks ?? effect(gain)}${restsOnCopies ? `. ${LOOK_FIRST}` : ''}`,
  }));
}

function optionsOf(asked: Asked): Option[] {
  const { volume, assessment } = asked;
  const all = assessment.projects.filter(({ sum }) => sum.volume === volume.name);
  const projects = all.filter(({ sum }) => sum.area === 'project');
  const resting = projects.filter(({ sum }) => !isArriving(sum, assessment));
  const trash = volume.areas.filter(({ area }) => area === 'trash');
  return [
    cacheOption([...projects.map(({ sum }) => sum), ...volume.areas]),
    ...resting.map((project) => madeOption(project, asked)),
    ...trash.map((sum) => trashOption(sum, all.find((one) => one.sum.area === 'trash')?.copies ?? null, asked)),
    ...resting.flatMap((project) => moveOption(project, asked) ?? []),
    ...backUpFirst(resting, asked),
  ];
}

function formatDays(days: number): string {
  return days < 1 ? 'less than a shoot day' : `about ${formatCount(Math.floor(days), 'shoot day')}`;
}

function cacheOption(sums: readonly ProjectSum[]): Option {
  const gain = sums.filter((sum) => sum.area !== 'trash').reduce((total, sum) => total + (sum.byKind.cache ?? 0), 0);
  return { gain, effort: 1, lacking: 0, action: 'Let the editing programs clear their caches, which they make again' };
}

/** Of footage that is here: what is removed can be made again, and nothing is lost but time. Of the rest what has its copies. */
function madeOption({ sum, made, copies }: ProjectAssessment, { volume, assessment }: Asked): Option {
  const look = `Look through the proxies and renders of ${display(sum.project ?? '')}`;
  const again = made.replaceableBytes;
  const others = Math.min(copies?.unsourcedBytes ?? 0, made.bytes - again);
  const copied = copies?.made ?? null;
  const told =
    copied === null || copied.bytes === 0
      ? ''
      : `; ${copiedWords(`${formatBytes(copied.bytes)} of them`, copied, volume.wanted, assessment.zone)}`;
  const what =
    again === 0 ? '' : `: ${others === 0 ? 'those' : formatBytes(again)} of footage that is here can be made again`;
  return { gain: again + others, effort: 2, lacking: 0, action: `${look}${what}${told}`, restsOnCopies: others > 0 };
}

/** Its owner gave it up; but footage in it counts only as far as it has copies, for it may lie there by mistake. */
function trashOption(trash: ProjectSum, copies: ProjectAssessment['copies'], { volume, assessment }: Asked): Option {
  const { footageBytes, bytes } = trash;
  const copied = copies?.footage ?? NOTHING_COPIED;
  const lacking = Math.max(0, footageBytes - copied.bytes);
  const gain = bytes - lacking;
  const option = { gain, effort: 2, lacking };
  if (footageBytes === 0) return { ...option, action: 'Look through the trash and empty it' };
  const footage = `${formatBytes(footageBytes)} of footage`;
  const without = lackingWords(lacking, volume.wanted);
  if (gain <= 0) {
    const action = `Look through the trash (${footage}), and move out of it what you want to keep, so that it is backed up`;
    return { ...option, action, lacks: `${without}, so none of it counts as room yet` };
  }
  if (copied.bytes === 0) {
    const action = `Look through the trash: what is no footage there counts; of its ${footage} ${without} and are not counted`;
    return { ...option, action };
  }
  const has = copiedWords(`${formatBytes(copied.bytes)} of it`, copied, volume.wanted, assessment.zone);
  const rest = lacking > 0 ? `; ${without} and are not counted` : '';
  return { ...option, action: `Look through the trash and empty it (${footage}: ${has}${rest})`, restsOnCopies: true };
}

/** Bytes of a project that have no copies to count on, but for what programs make again: that is another way. */
function lackingOf({ sum, copies }: ProjectAssessment): number {
  return Math.max(0, sum.bytes - (sum.byKind.cache ?? 0) - copiedOf(copies).bytes);
}

function copiedOf(copies: ProjectAssessment['copies']): Copied {
  return copies === null ? NOTHING_COPIED : together([copies.footage, copies.made, copies.other]);
}

/** All of it that has its copies; `null`: nothing has. */
function moveOption(one: ProjectAssessment, { volume, assessment }: Asked): Option | null {
  const copied = copiedOf(one.copies);
  if (copied.bytes === 0) return null;
  const lacking = lackingOf(one);
  const since = one.edit.beingRead.size > 0 ? null : restsSince(one.hours, assessment.at);
  const rests =
    since === null ? '' : `, to which no footage came since ${isoWithOffset(since, assessment.zone).slice(0, 10)},`;
  const has = copiedWords(
    `${lacking === 0 ? 'all ' : ''}${formatBytes(copied.bytes)} of it`,
    copied,
    volume.wanted,
    assessment.zone,
  );
  const without = lacking === 0 ? '' : `; ${lackingWords(lacking, volume.wanted)} and are not counted`;
  const project = display(one.sum.project ?? '');
  const action = `Move project ${project}${rests} to another volume: ${has}${without}`;
  return { gain: copied.bytes, effort: since === null ? 4 : 3, lacking, action, restsOnCopies: true };
}

/** Of projects of which nothing has its copies: that comes before everything else. */
function backUpFirst(projects: readonly ProjectAssessment[], { volume, assessment }: Asked): Option[] {
  const bare = projects
    .filter((one) => copiedOf(one.copies).bytes === 0 && lackingOf(one) > 0)
    .sort((one, other) => lackingOf(other) - lackingOf(one));
  const [largest] = bare;
  if (largest === undefined) return [];
  const lacking = bare.reduce((sum, one) => sum + lackingOf(one), 0);
  const names = bare.slice(0, MOST_NAMED).map(({ sum }) => display(sum.project ?? ''));
  const more = bare.length - names.length;
  const whose = listWords(more > 0 ? [...names, `${more} more`] : names);
  const isConfigured = assessment.backups.shelves.some(({ volumes }) => volumes.includes(volume.name));
  const how = isConfigured ? '"headroomd backup now"' : 'write a [[shelf]] and a [[backup]] into the configuration';
  const why =
    largest.copies === null ? 'which copies they have is not known now' : lackingWords(lacking, volume.wanted);
  return [
    {
      ...{ gain: 0, effort: 4, lacking },
      action: `Back up ${whose} first (${how}), before anything is moved to another volume`,
      lacks: `${why}, so none of it counts as room yet`,
    },
  ];
}

/** When footage came last; `null`: lately, or it is not known. */
function restsSince(hours: ProjectAssessment['hours'], at: Instant): Instant | null {
  const last = hours.reduce<number | null>((max, { hour }) => (max === null || hour > max ? hour : max), null);
  return last === null || at - last * HOUR_MS < DORMANT_MS ? null : last * HOUR_MS;
}

/** Something is still on its way into the project: not the moment to move it. */
function isArriving(sum: ProjectSum, assessment: Assessment): boolean {
  return assessment.arrivals.some(
    (arrival) =>
      arrival.volume === sum.volume && arrival.stage !== 'ready' && arrival.path.startsWith(`${sum.project ?? ''}/`),
  );
}

/** Those that matter (1 % of what is missing), sufficient ones first; last what would matter with its copies. */
function bestFirst(options: readonly Option[], short: number): Option[] {
  const useful = options.filter(({ gain }) => gain > 0 && gain >= short / 100);
  const sufficient = useful.filter(({ gain }) => gain >= short);
  const partial = useful.filter(({ gain }) => gain < short);
  const blocked = options.filter(({ lacks, lacking }) => lacks !== undefined && lacking > 0 && lacking >= short / 100);
  sufficient.sort((one, other) => one.effort - other.effort || one.gain - other.gain);
  partial.sort((one, other) => other.gain - one.gain);
  blocked.sort((one, other) => other.lacking - one.lacking);
  return [...sufficient, ...partial, ...blocked].slice(0, AT_MOST);
}
