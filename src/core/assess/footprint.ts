import { type Area, type Clip, type FileRecord, FOOTAGE_KINDS, type Kind, MADE_KINDS, type Ratio } from '../model.ts';
import type { FormatSum, ProjectSum } from '../store-ports.ts';

/*
 * The footprint is kept as running sums: a change takes off what it replaces and adds what it puts, so that nothing
 * ever walks the whole catalogue. All sums are whole numbers (durations in microseconds), so that adding and taking off
 * in any order gives exactly what a recount gives; sums of fractions would drift.
 */

/** Bytes and number of files of one kind in one project. In a difference both may be negative. */
export interface FileSum {
  volume: string;
  area: Area;
  project: string | null;
  kind: Kind;
  files: number;
  bytes: number;
}

/** Clips of one format and kind in one project. In a difference the figures may be negative. */
export interface ClipSum {
  volume: string;
  area: Area;
  project: string | null;
  kind: Kind;
  codec: string | null;
  width: number | null;
  height: number | null;
  frameRate: Ratio | null;
  clips: number;
  bytes: number;
  /** Bytes of clips whose duration is known. */
  timedBytes: number;
  durationMicros: number;
}

/** Sums, or a difference of sums, by their key. */
export interface Footprint {
  files: Map<string, FileSum>;
  clips: Map<string, ClipSum>;
}

type FileShare = Pick<FileRecord, 'volume' | 'area' | 'project' | 'kind' | 'size'>;

export function emptyFootprint(): Footprint {
  return { files: new Map(), clips: new Map() };
}

/** Adds `times` files (-1 takes one off). `counted` is false for every hard link to the same content but one. */
export function addFile(to: Footprint, file: FileShare, counted: boolean, times: 1 | -1): void {
  addFiles(to, { ...file, files: times, bytes: counted ? times * file.size : 0 });
}

/** Adds the bytes of a file without its number: for a hard link that becomes, or stops being, the counted one. */
export function addFileBytes(to: Footprint, file: FileShare, times: 1 | -1): void {
  addFiles(to, { ...file, files: 0, bytes: times * file.size });
}

/** Adds a whole sum. */
export function addFiles(to: Footprint, add: FileSum): void {
  const { volume, area, project, kind } = add;
  const key = JSON.stringify([volume, area, project, kind]);
  const sum = to.files.get(key) ?? { volume, area, project, kind, files: 0, bytes: 0 };
  sum.files += add.files;
  sum.bytes += add.bytes;
  to.files.set(key, sum);
}

/** Adds a clip (-1 takes it off). A clip of unknown duration adds bytes and no time. */
export function addClip(to: Footprint, clip: Clip, times: 1 | -1): void {
  const { volume, area, project, kind } = clip;
  const { codec, width, height } = clip.facts;
  const frameRate = clip.facts.frameRate === null ? null : reduced(clip.facts.frameRate);
  const key = JSON.stringify([volume, area, project, kind, codec, width, height, frameRate?.num, frameRate?.den]);
  const format = { volume, area, project, kind, codec, width, height, frameRate };
  const sum = to.clips.get(key) ?? { ...format, clips: 0, bytes: 0, timedBytes: 0, durationMicros: 0 };
  sum.clips += times;
  sum.bytes += times * clip.bytes;
  if (clip.facts.durationSeconds !== null) sum.timedBytes += times * clip.bytes;
  sum.durationMicros += times * durationMicros(clip.facts.durationSeconds);
  to.clips.set(key, sum);
}

/** Seconds to whole microseconds; unknown is 0. */
export function durationMicros(seconds: number | null): number {
  return seconds === null ? 0 : Math.round(seconds * 1e6);
}

export function isFootage(kind: Kind): boolean {
  return FOOTAGE_KINDS.includes(kind);
}

/** Whether something of this kind was made from footage, and can be made again while that is known and there. */
export function isMade(kind: Kind): boolean {
  return MADE_KINDS.includes(kind);
}

/** Whether a file or clip must have copies: footage, but not in the trash, which its owner gave up. */
export function isExposable({ area, kind }: { area: Area; kind: Kind }): boolean {
  return isFootage(kind) && area !== 'trash' && area !== 'system';
}

/** Whether a clip is made of such files, or only accompanied by them. */
export function isEssence(kind: Kind): boolean {
  return kind !== 'sidecar';
}

/** How long the first sighting of footage that went is kept, for when it comes back under another name. */
export const FIRST_SIGHT_KEPT_MS = 24 * 3600 * 1000;

/** Bytes of files; clips and their time beside them. */
export interface FootageTotal {
  clips: number;
  bytes: number;
  durationMicros: number;
}

/** The sums of one project, and what of it must have copies (the base of exposure; nothing in the trash). */
export interface ProjectFootprint extends Omit<ProjectSum, 'exposed'> {
  exposable: FootageTotal;
}

/** Folds the sums into one entry per project and per area outside projects, sorted by volume, area and name. */
export function foldProjects(files: Iterable<FileSum>, clips: Iterable<ClipSum>): ProjectFootprint[] {
  const found = new Map<string, ProjectFootprint>();
  for (const sum of files) {
    const project = sum.files > 0 ? entryOf(found, sum) : null;
    if (project === null) continue;
    project.bytes += sum.bytes;
    project.byKind[sum.kind] = (project.byKind[sum.kind] ?? 0) + sum.bytes;
    if (isFootage(sum.kind)) project.footageBytes += sum.bytes;
    if (isMade(sum.kind)) project.made.bytes += sum.bytes;
    if (isExposable(sum)) project.exposable.bytes += sum.bytes;
  }
  const formats = new Map<string, FormatSum>();
  for (const sum of clips) {
    const project = sum.clips > 0 ? entryOf(found, sum) : null;
    if (project !== null) foldClips(project, sum, formats);
  }
  for (const project of found.values()) project.formats.sort((a, b) => b.bytes - a.bytes || compareText(a, b));
  return [...found.values()].sort(byPlace);
}

function foldClips(project: ProjectFootprint, sum: ClipSum, formats: Map<string, FormatSum>): void {
  if (isFootage(sum.kind)) {
    project.clips += sum.clips;
    project.durationSeconds = addSeconds(project.durationSeconds, sum.durationMicros);
  }
  if (isMade(sum.kind)) {
    project.made.clips += sum.clips;
    project.made.durationSeconds = addSeconds(project.made.durationSeconds, sum.durationMicros);
  }
  if (isExposable(sum)) {
    project.exposable.clips += sum.clips;
    project.exposable.durationMicros += sum.durationMicros;
  }
  // What is edited from: what was made of it may be made again in any format.
  if (!isFootage(sum.kind)) return;
  const { codec, width, height, frameRate } = sum;
  const key = JSON.stringify([project.volume, project.area, project.project, codec, width, height, frameRate]);
  let format = formats.get(key);
  if (format === undefined) {
    format = { codec, width, height, frameRate, clips: 0, bytes: 0, timedBytes: 0, durationSeconds: 0 };
    formats.set(key, format);
    project.formats.push(format);
  }
  format.clips += sum.clips;
  format.bytes += sum.bytes;
  format.timedBytes += sum.timedBytes;
  format.durationSeconds = addSeconds(format.durationSeconds, sum.durationMicros);
}

function entryOf(found: Map<string, ProjectFootprint>, sum: FileSum | ClipSum): ProjectFootprint | null {
  const { volume, area, project } = sum;
  if (area === 'system') return null;
  const key = JSON.stringify([volume, area, project]);
  let entry = found.get(key);
  if (entry === undefined) {
    const nothing = { bytes: 0, footageBytes: 0, clips: 0, durationSeconds: 0 };
    const exposable = { clips: 0, bytes: 0, durationMicros: 0 };
    const made = { clips: 0, bytes: 0, durationSeconds: 0 };
    entry = { volume, area, project, ...nothing, byKind: {}, made, formats: [], exposable };
    found.set(key, entry);
  }
  return entry;
}

/** What is left of the footage when the covered part is taken off; `since` is the first sighting of what is left. */
export function exposedOf(
  all: FootageTotal,
  covered: FootageTotal,
  since: number | null,
): NonNullable<ProjectSum['exposed']> {
  const bytes = all.bytes - covered.bytes;
  const clips = all.clips - covered.clips;
  const durationSeconds = (all.durationMicros - covered.durationMicros) / 1e6;
  return { bytes, clips, durationSeconds, since: bytes > 0 || clips > 0 ? since : null };
}

/** Through whole microseconds, so that the result does not depend on the order. */
function addSeconds(seconds: number, micros: number): number {
  return (durationMicros(seconds) + micros) / 1e6;
}

function reduced(rate: Ratio): Ratio {
  let [a, b] = [Math.abs(rate.num), Math.abs(rate.den)];
  while (b > 0) [a, b] = [b, a % b];
  return a > 1 && Number.isInteger(a) ? { num: rate.num / a, den: rate.den / a } : { num: rate.num, den: rate.den };
}

const AREAS: readonly Area[] = ['project', 'shared', 'unassigned', 'trash', 'system'];

function byPlace(a: ProjectFootprint, b: ProjectFootprint): number {
  return (
    compareStrings(a.volume, b.volume) ||
    AREAS.indexOf(a.area) - AREAS.indexOf(b.area) ||
    Number(a.project !== null) - Number(b.project !== null) ||
    compareStrings(a.project ?? '', b.project ?? '')
  );
}

function compareText(a: FormatSum, b: FormatSum): number {
  return compareStrings(JSON.stringify(a), JSON.stringify(b));
}

function compareStrings(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
