import type { FactSources } from '../intake/fact-sources.ts';
import { type KindFolders, kindReason } from '../intake/kind.ts';
import type { Clip, ClipFacts, Kind, NumberRange, Ratio } from '../model.ts';
import { formatBytes, formatCount, formatDuration, formatFrameRate } from '../units.ts';
import {
  disagreementSentence,
  lackSentences,
  partsSentence,
  type SettledDisagreement,
  type ToldClip,
} from './clip-words.ts';
import { display, pathInJson } from './escape.ts';
import { cell, columns, wrap } from './text.ts';

/** The contract of `clips --json`. Bit rates in bits per second, as the trade reads them. Keys are only ever added. */
export interface ClipJson extends ToldClip {
  volume: string;
  project: string | null;
  name: string;
  /** Relative to the volume; bytes that were no UTF-8 as `\xNN`. */
  paths: string[];
  fileCount: number;
  bytes: number;
  kind: Kind;
  /** The folder, mark in the name or extension that decided; `null`: it was none of them. */
  kindReason: string | null;
  container: string | null;
  codec: string | null;
  profile: string | null;
  width: number | null;
  height: number | null;
  frameRate: Ratio | null;
  scan: ClipFacts['scan'];
  bitDepth: number | null;
  chroma: string | null;
  durationSeconds: number | null;
  frames: number | null;
  videoBytes: number | null;
  videoBitrate: number | null;
  overallBitrate: number | null;
  startTimecode: string | null;
  dropFrame: boolean | null;
  reel: string | null;
  camera: string | null;
  recordedAt: string | null;
  recordedAtBasis: ClipFacts['recordedAtBasis'];
  audioTracks: number | null;
  audioChannels: number | null;
  /** Whether the frame rate varies; then `frameRate` is that of most frames. */
  variableRate: boolean | null;
  /** Where each known fact comes from. */
  sources: FactSources;
  /** What the container and the media reader tell differently. */
  disagreements: SettledDisagreement[];
  /** What went wrong with reading it, and what in it is damaged. */
  troubles: string[];
}

/**
 * A clip as `clips --json` gives it. Texts are as they are: JSON can hold them, a terminal cannot (`terminalJson`).
 * @param kinds folders that the configuration of its volume names
 */
export function clipJson(clip: Clip, kinds: KindFolders): ClipJson {
  const reason = kindReason(clip, kinds);
  const { facts } = clip;
  return {
    volume: clip.volume,
    project: clip.project === null ? null : pathInJson(clip.project),
    name: pathInJson(clip.name),
    paths: clip.paths.map(pathInJson),
    fileCount: clip.fileCount,
    bytes: clip.bytes,
    kind: clip.kind,
    kindReason: reason === null ? null : pathInJson(reason),
    container: facts.container,
    codec: facts.codec,
    profile: facts.profile,
    width: facts.width,
    height: facts.height,
    frameRate: facts.frameRate === null ? null : { num: facts.frameRate.num, den: facts.frameRate.den },
    scan: facts.scan,
    bitDepth: facts.bitDepth,
    chroma: facts.chroma,
    durationSeconds: facts.durationSeconds,
    frames: facts.frames,
    videoBytes: facts.videoBytes,
    missingFrames: clip.missingFrames.map(copyRange),
    missingParts: clip.missingParts.map(copyRange),
    missingNames: clip.missingNames.map(pathInJson),
    essenceCount: clip.essenceCount,
    parts: clip.parts,
    groupedBy: clip.groupedBy,
    videoBitrate: facts.videoBitrate,
    overallBitrate: facts.overallBitrate,
    startTimecode: facts.startTimecode,
    dropFrame: facts.dropFrame,
    reel: facts.reel,
    camera: facts.camera,
    recordedAt: facts.recordedAt,
    recordedAtBasis: facts.recordedAtBasis,
    audioTracks: facts.audioTracks,
    audioChannels: facts.audioChannels,
    variableRate: facts.variableRate,
    sources: { ...clip.sources },
    disagreements: clip.disagreements.map((one) => ({ ...one, counts: clip.sources[one.fact] ?? null })),
    troubles: [...clip.troubles],
    state: clip.state,
  };
}

/** Widths of the columns that do not grow: `112 h 03 min`, `1.24 TB`, `14:03:10:12`. */
const LENGTH = 12;
const SIZE = 8;
const TIMECODE = 11;
/** From this width on there is a column for the timecode. */
const WITH_TIMECODE = 100;
/** Below that there is no room for columns. */
const WITH_COLUMNS = 60;

/** Clips as plain text, one line each below their project; no line wider than `width` (40 at least); below 60 columns two lines each. */
export function clipsTable(clips: readonly ClipJson[], { width }: { width: number }): string {
  if (clips.length === 0) return 'No clips yet.\n';
  const total = Math.max(40, width);
  const projects = Map.groupBy(clips, (clip) => JSON.stringify([clip.volume, clip.project]));
  const picture = pictureColumns(clips, total);
  const blocks = [...projects.values()].map((members) => [
    ...wrap(projectLine(members), total),
    ...members.flatMap((clip) => clipLines(clip, total, picture)),
  ]);
  return `${blocks.map((lines) => lines.join('\n')).join('\n\n')}\n`;
}

function projectLine(clips: readonly ClipJson[]): string {
  const name = clips[0]?.project ?? 'Outside every project';
  const bytes = clips.reduce((sum, clip) => sum + clip.bytes, 0);
  return `${name} (${clips[0]?.volume ?? ''}): ${formatCount(clips.length, 'clip')}, ${formatBytes(bytes)}`;
}

/** Columns that name and picture share. */
function sharedColumns(width: number): number {
  const fixed = LENGTH + 2 + SIZE + (width >= WITH_TIMECODE ? 2 + TIMECODE : 0);
  return width - '  '.length * 3 - fixed;
}

/** Columns that a name has in any case: most of cameras fit. */
const NAME = 22;

/** As many as the longest picture needs; the rest is for the names. */
function pictureColumns(clips: readonly ClipJson[], width: number): number {
  const longest = clips.reduce((most, clip) => Math.max(most, columns(display(pictureOf(clip)))), 0);
  return Math.min(longest, sharedColumns(width) - NAME);
}

function clipLines(clip: ClipJson, width: number, picture: number): string[] {
  const troubles = troubleOf(clip).flatMap((trouble) => wrap(trouble, width, '    '));
  if (width < WITH_COLUMNS)
    return [...wrap(clip.name, width, '  '), ...wrap(narrowWords(clip), width, '    '), ...troubles];
  const timecode = width >= WITH_TIMECODE ? [cell(clip.startTimecode ?? '', TIMECODE, 'right')] : [];
  const fixed = [
    cell(clip.durationSeconds === null ? 'unknown' : formatDuration(clip.durationSeconds), LENGTH, 'right'),
    cell(formatBytes(clip.bytes), SIZE, 'right'),
    ...timecode,
  ].join('  ');
  const line = `  ${cell(clip.name, sharedColumns(width) - picture)}  ${cell(pictureOf(clip), picture)}  ${fixed}`;
  return [line.trimEnd(), ...troubles];
}

function narrowWords(clip: ClipJson): string {
  const length = clip.durationSeconds === null ? 'length unknown' : formatDuration(clip.durationSeconds);
  return `${pictureOf(clip)}, ${length}, ${formatBytes(clip.bytes)}`;
}

function pictureOf({ codec, width, height, frameRate, variableRate, state }: ClipJson): string {
  if (state === 'not-decoded') return 'not decoded';
  const raster = width === null || height === null ? '' : ` ${width}x${height}`;
  const rate = frameRate === null ? '' : ` ${formatFrameRate(frameRate)} fps${variableRate === true ? ', varies' : ''}`;
  return `${codec ?? 'unknown'}${raster}${rate}`;
}

/** What a person must know of a clip beyond its line. */
function troubleOf(clip: ClipJson): string[] {
  const parts = partsSentence(clip);
  const isFootage = clip.kind === 'original' || clip.kind === 'sound';
  return [
    ...(isFootage ? [] : [`counted as ${clip.kind}${clip.kindReason === null ? '' : `: ${clip.kindReason}`}`]),
    ...(parts === null ? [] : [parts]),
    ...lackSentences(clip),
    ...(clip.state === 'not-decoded' ? ['its picture cannot be read here; it is counted by its bytes alone'] : []),
    ...clip.disagreements.map(disagreementSentence),
    ...clip.troubles,
  ];
}

function copyRange({ first, last }: NumberRange): NumberRange {
  return { first, last };
}
