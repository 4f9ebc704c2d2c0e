import type { Assessment, MulticamGroup, VolumeAssessment } from '../assess/assessment.ts';
import { display } from '../present/escape.ts';
import type { FormatSum, ProjectSum } from '../store-ports.ts';
import { formatBytes, formatCount, formatFrameRate, formatRate } from '../units.ts';
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
 * Ways to get `shortBytes` back on a volume: caches, trash, moving a project away. First those that suffice (easiest,
 * then the smallest), then the rest by what they give. None deletes or moves footage without its verified copies.
 */
export function roomRemedies(volume: VolumeAssessment, assessment: Assessment, shortBytes: number): Remedy[] {
  const space = volume.capacity?.space;
  if (space === undefined) return [];
  const sums = assessment.projects
    .map((project) => project.sum)
    .filter((sum) => sum.volume === volume.name && sum.area === 'project');
  const effect = (bytes: number) => {
    const left = `frees ${formatBytes(bytes)} and leaves ${formatBytes(space.availableBytes + bytes)} to write`;
    return bytes < shortBytes ? `${left}; ${formatBytes(shortBytes - bytes)} are still missing` : left;
  };
  const options = [
    cacheOption([...sums, ...volume.areas], effect),
    ...volume.areas.filter((area) => area.area === 'trash').map((trash) => trashOption(trash, effect)),
    ...sums.filter((sum) => !isArriving(sum, assessment)).map((sum) => moveOption(sum, effect)),
  ];
  return bestFirst(options, shortBytes);
}

/**
 * Ways to play a group within `budgetBps`: fewer angles at once, or a lighter format that the project has clips of.
 * Loads are scaled from the group's peak, so the spread of rates is in them; of single angles only the mean is known.
 */
export function speedRemedies(group: MulticamGroup, formats: readonly FormatSum[], budgetBps: number): Remedy[] {
  const fewer = fewerAngles(group, budgetBps);
  const lighter = formats.flatMap((format) => lighterFormat(group, format, budgetBps));
  const sufficient = lighter.filter((option) => option.gain <= budgetBps).sort((one, other) => other.gain - one.gain);
  return [...fewer, ...sufficient.map((option) => option.remedy)].slice(0, AT_MOST);
}

function cacheOption(sums: readonly ProjectSum[], effect: (bytes: number) => string): Option {
  const gain = sums.filter((sum) => sum.area !== 'trash').reduce((total, sum) => total + (sum.byKind.cache ?? 0), 0);
  const action = 'Let the editing programs clear their caches, which they make again';
  return { gain, effort: 1, remedy: { action, effect: effect(gain) } };
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

/** What always helps: a volume that gives enough. `reserve` is the share of its speed that is kept free. */
export function fasterVolume(demandBps: number, budgetBps: number, reserve: number): Remedy {
  const needed = demandBps / (1 - reserve);
  return {
    action: `Edit from a volume that reads at least ${formatRate(needed)}`,
    effect: `${formatRate(demandBps)} then stays within what may be asked for, here it is ${formatRate(budgetBps)}`,
  };
}

function fewerAngles(group: MulticamGroup, budgetBps: number): Remedy[] {
  const share = group.peakBps / group.angles;
  const fit = Math.min(group.angles - 1, Math.floor(budgetBps / share));
  if (fit < 1) return [];
  const action = `Play ${fit} of the ${group.angles} angles at once`;
  return [{ action, effect: `needs about ${formatRate(share * fit)} of ${formatRate(budgetBps)}` }];
}

/** `gain` is here the load that all angles would make in that format. */
function lighterFormat(group: MulticamGroup, format: FormatSum, budgetBps: number): Option[] {
  const { codec, width, height } = format;
  // Without a raster it is sound.
  if (codec === null || width === null || height === null || format.durationSeconds <= 0) return [];
  const rate = format.timedBytes / format.durationSeconds;
  const spread = group.demandBps > 0 ? group.peakBps / group.demandBps : 1;
  const load = rate * group.angles * spread;
  if (load >= group.peakBps) return [];
  const speed = format.frameRate === null ? '' : ` at ${formatFrameRate(format.frameRate)} fps`;
  const have = `${formatCount(format.clips, 'clip')} of this project already ${format.clips === 1 ? 'is' : 'are'}`;
  const action = `Cut with angles in ${display(codec)} ${width}x${height}${speed}, as ${have}`;
  const effect = `${group.angles} angles then need about ${formatRate(load)} of ${formatRate(budgetBps)}`;
  return [{ gain: load, effort: 2, remedy: { action, effect } }];
}
