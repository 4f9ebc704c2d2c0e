import { count, type Read, u32le } from './reading.ts';
import { type Chunk, type Form, isOpen, namedChunks, newBudget } from './riff-chunks.ts';
import type { SoundTrack, Structure } from './structure.ts';
import { type SoundFormat, soundFormat } from './wave-format.ts';
import { SOUND_HEADER_BYTES, type SoundHeader, soundHeader } from './wave-header.ts';
import { describedNotes, ixmlNotes, NO_NOTES, type SoundNotes } from './wave-notes.ts';
import { soundTimecode } from './wave-timecode.ts';

/** More notes than this are not read: a recorder writes some kilobytes. */
const MAX_NOTES = 1_048_576;

/** Chunks behind the sound are read at once when they are no longer than this together. */
const TAIL_BYTES = 49_152;

/** An unset 64-bit time reference. */
const ALL_ONES = 0xffff_ffff_ffff_ffffn;

type Parts = Partial<Record<'fmt ' | 'bext' | 'iXML' | 'fact' | 'data', Chunk>>;
type Part = keyof Parts;

const PARTS: ReadonlySet<string> = new Set<Part>(['fmt ', 'bext', 'iXML', 'fact', 'data']);

/** What a WAV of any length tells: format, sound header (EBU Tech 3285) and the recorder's notes (iXML). */
export function waveStructure(read: Read, size: number, form: Form, troubles: string[]): Structure {
  const parts = partsOf(read, size, form, troubles);
  const content = (part: Part, most: number) => contentOf(read, form.end, parts[part], most, troubles);
  const format = soundFormat(content('fmt ', 64));
  if (format === null) troubles.push('the format of the sound is missing or cut off');
  const fact = parts['fact'] === undefined ? null : u32le(content('fact', 4), 0);
  const header = parts['bext'] === undefined ? null : soundHeader(content('bext', SOUND_HEADER_BYTES));
  if (parts['bext'] !== undefined && header === null) troubles.push('the sound header (bext) is cut off');
  const notes = notesOf(parts['iXML'], (most) => content('iXML', most), troubles);
  const track = soundTrack(
    format,
    soundBytes(parts['data'], form, size, troubles),
    form.sizes.samples ?? fact,
    troubles,
  );
  if (notes.tracks !== null && track.channels !== null && notes.tracks !== track.channels)
    troubles.push(`the notes (iXML) list ${notes.tracks} tracks, the sound has ${track.channels}`);
  return {
    container: parts['bext'] === undefined ? 'WAV' : 'BWF',
    tracks: [track],
    camera: null,
    createdAt: header?.createdAt ?? null,
    ...originOf(header, notes, track, troubles),
    troubles,
  };
}

/** The first chunk of each kind that matters. What follows a sound without a length is the rest of it. */
function partsOf(read: Read, size: number, form: Form, troubles: string[]): Parts {
  const parts: Parts = {};
  for (const chunk of namedChunks(read, 12, form.end, form.sizes.of, newBudget(), troubles)) {
    if (PARTS.has(chunk.id)) parts[chunk.id as Part] ??= chunk;
    if (chunk === parts['data'] && !readTail(read, chunk, form.end, size)) break;
  }
  return parts;
}

/** Fetches what lies behind the sound, mostly less than a block. False when nothing can. */
function readTail(read: Read, { start, length }: Chunk, end: number, size: number): boolean {
  const last = start + length + (length % 2);
  if (isOpen(length) || last > size) return false;
  if (end - last > 8 && end - last <= TAIL_BYTES) read(last, end - last);
  return true;
}

function contentOf(read: Read, end: number, chunk: Chunk | undefined, most: number, troubles: string[]): Uint8Array {
  if (chunk === undefined) return new Uint8Array(0);
  if (chunk.start + chunk.length > end + 1) troubles.push(`chunk ${chunk.id.trim()} goes beyond the end`);
  return read(chunk.start, Math.max(0, Math.min(chunk.length, most, end - chunk.start)));
}

function notesOf(chunk: Chunk | undefined, content: (most: number) => Uint8Array, troubles: string[]): SoundNotes {
  if (chunk === undefined || chunk.length === 0) return NO_NOTES;
  if (chunk.length <= MAX_NOTES) return ixmlNotes(content(MAX_NOTES), troubles);
  troubles.push(`the notes (iXML) have ${count(chunk.length)} bytes and are not read`);
  return NO_NOTES;
}

/** Bytes of sound; `null` where its length is not written or not all of it is there. */
function soundBytes(data: Chunk | undefined, form: Form, size: number, troubles: string[]): number | null {
  if (data === undefined) troubles.push('there is no sound (chunk data) inside');
  else if (isOpen(data.length)) troubles.push('the length of the sound is not written');
  else if (data.start + data.length > size)
    troubles.push(`the sound ends at byte ${count(data.start + data.length)}, the file has ${count(size)}`);
  else if (data.start + data.length > form.end)
    troubles.push(`the sound ends at byte ${count(data.start + data.length)}, the header says at ${count(form.end)}`);
  else return data.length;
  return null;
}

function soundTrack(
  format: SoundFormat | null,
  bytes: number | null,
  counted: number | null,
  troubles: string[],
): SoundTrack {
  const frame = format?.frameBytes ?? null;
  if (bytes !== null && frame !== null && bytes % frame > 0) troubles.push('the sound ends in mid-sample');
  const told = counted === 0 || counted === 0xffff_ffff ? null : counted;
  const samples = bytes === null ? null : frame === null ? told : Math.floor(bytes / frame);
  const sampleRate = format?.sampleRate ?? null;
  return {
    type: 'sound',
    codecId: format?.codecId ?? null,
    channels: format?.channels ?? null,
    sampleRate,
    bitDepth: format?.bitDepth ?? null,
    samples,
    durationSeconds: samples === null || sampleRate === null ? null : samples / sampleRate,
    bytes,
  };
}

/** Timecode, reel and ties, from the recorder's notes before the lines in the sound header's description. */
function originOf(
  header: SoundHeader | null,
  notes: SoundNotes,
  { sampleRate }: SoundTrack,
  troubles: string[],
): Pick<Structure, 'timecodes' | 'reel' | 'ties'> {
  const described = describedNotes(header?.description ?? '');
  const reference = referenceOf(header, notes, troubles);
  const perSecond = notes.clock.samplesPerSecond ?? sampleRate;
  const timecode =
    reference === null || perSecond === null ? null : soundTimecode(reference, perSecond, notes.clock, troubles);
  return {
    timecodes: timecode === null ? [] : [timecode],
    reel: notes.tape ?? described.tape,
    ties: {
      materialPackage: null,
      scene: notes.scene ?? described.scene,
      take: notes.take ?? described.take,
      family: notes.family,
      timeReference: reference === null ? null : Number(reference),
    },
  };
}

/**
 * Samples after midnight: the sound header's before the copy of it in the notes. A header with 0 may be one in which nobody
 * set it; it is believed where the notes say 0 as well.
 */
function referenceOf(header: SoundHeader | null, { clock }: SoundNotes, troubles: string[]): bigint | null {
  const own = header === null || header.timeReference === 0n ? null : header.timeReference;
  if (own !== null && own !== ALL_ONES && clock.samples !== null && own !== clock.samples)
    troubles.push('the sound header (bext) and the notes (iXML) begin at different times');
  const reference = own ?? clock.samples;
  if (reference === null || reference === ALL_ONES) return null;
  if (reference <= BigInt(Number.MAX_SAFE_INTEGER)) return reference;
  troubles.push('the time reference is beyond any day');
  return null;
}
