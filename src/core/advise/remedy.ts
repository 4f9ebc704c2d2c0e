import type { Assessment, ProjectAssessment, VolumeAssessment } from '../assess/assessment.ts';
import { keepsDeleted } from '../assess/capacity-notes.ts';
import { display } from '../present/escape.ts';
import type { ProjectSum } from '../store-ports.ts';
import { formatBytes, formatCount } from '../units.ts';
import type { Remedy } from './advisory.ts';

/** More than this is no help but a list. */
const AT_MOST = 3;

/** A way to gain something, before it is put in words. `effort`: lower is easier. */
interface Option {
  gain: number;
  effort: number;
  remedy: Remedy;
}

/**
 * Ways to get `shortBytes` back on a volume: caches, what can be made again, trash, moving a project away. First those that suffice (easiest,
 * then the smallest), then the rest by what they give. None deletes or moves footage without its verified copies. `shootDayBytes`: what a
 * day of shooting brings, where days are what is gained.
 */
export function roomRemedies(
  volume: VolumeAssessment,
  assessment: Assessment,
  shortBytes: number,
  shootDayBytes: number | null = null,
): Remedy[] {
  const space = volume.capacity?.space;
  if (space === undefined) return [];
  const projects = assessment.projects.filter(({ sum }) => sum.volume === volume.name && sum.area === 'project');
  const sums = projects.map((project) => project.sum);
  const kept = keepsDeleted(volume.fileSystem) ? ' (not while snapshots hold it)' : '';
  const effect = (bytes: number) => {
    const days = shootDayBytes === null ? '' : `, about ${formatDays(bytes / shootDayBytes)} more`;
    const left = `frees ${formatBytes(bytes)}${kept} and leaves ${formatBytes(space.availableBytes + bytes)} to write${days}`;
    return bytes < shortBytes ? `${left}; ${formatBytes(shortBytes - bytes)} are still missing` : left;
  };
  const options = [
    cacheOption([...sums, ...volume.areas], effect),
    ...projects.filter(({ sum }) => !isArriving(sum, assessment)).map((project) => madeOption(project, effect)),
    ...volume.areas.filter((area) => area.area === 'trash').map((trash) => trashOption(trash, effect)),
    ...sums.filter((sum) => !isArriving(sum, assessment)).map((sum) => moveOption(sum, effect)),
  ];
  return bestFirst(options, shortBytes);
}

function formatDays(days: number): string {
  return days < 1 ? 'less than a shoot day' : formatCount(Math.floor(days), 'shoot day');
}

function cacheOption(sums: readonly ProjectSum[], effect: (bytes: number) => string): Option {
  const gain = sums.filter((sum) => sum.area !== 'trash').reduce((total, sum) => total + (sum.byKind.cache ?? 0), 0);
  const action = 'Let the editing programs clear their caches, which they make again';
  return { gain, effort: 1, remedy: { action, effect: effect(gain) } };
}

/** Of footage that is here: what is removed can be made again, and nothing is lost but time. */
function madeOption({ sum, made }: ProjectAssessment, effect: (bytes: number) => string): Option {
  const project = display(sum.project ?? '');
  const action = `Look through the proxies and renders of ${project}: those of footage that is here can be made again`;
  return { gain: made.replaceableBytes, effort: 2, remedy: { action, effect: effect(made.replaceableBytes) } };
}

function trashOption(trash: ProjectSum, effect: (bytes: number) => string): Option {
  const footage = formatBytes(trash.footageBytes);
  const action =
    trash.footageBytes > 0
      ? `Look through the trash (${footage} of footage) and empty it, once all you want to keep has verified copies`
      : 'Look through the trash and empty it';
  return { gain: trash.bytes, effort: 2, remedy: { action, effect: effect(trash.bytes) } };
}

function moveOption(sum: ProjectSum, effect: (bytes: number) => string): Option {
  const project = display(sum.project ?? '');
  const action = `Move project ${project} to another volume, once it has verified copies${copiesMissing(sum)}`;
  return { gain: sum.bytes, effort: 3, remedy: { action, effect: effect(sum.bytes) } };
}

function copiesMissing(sum: ProjectSum): string {
  if (sum.exposed === null) return ' (which it has is not known now)';
  return sum.exposed.bytes > 0 ? ` (${formatCount(sum.exposed.clips, 'clip')} without, so not yet)` : '';
}

/** Something is still on its way into the project: not the moment to move it. */
function isArriving(sum: ProjectSum, assessment: Assessment): boolean {
  return assessment.arrivals.some(
    (arrival) =>
      arrival.volume === sum.volume && arrival.stage !== 'ready' && arrival.path.startsWith(`${sum.project ?? ''}/`),
  );
}

/** Those that matter (1 % of what is missing), sufficient ones first. */
function bestFirst(options: readonly Option[], short: number): Remedy[] {
  const useful = options.filter((option) => option.gain >= short / 100);
  const sufficient = useful.filter((option) => option.gain >= short);
  const partial = useful.filter((option) => option.gain < short);
  sufficient.sort((one, other) => one.effort - other.effort || one.gain - other.gain);
  partial.sort((one, other) => other.gain - one.gain);
  return [...sufficient, ...partial].slice(0, AT_MOST).map((option) => option.remedy);
}
