import { movieDate } from './bmff-date.ts';
import { type Movie, type MovieIndex, openMovie, tellInto } from './bmff-movie.ts';
import { find, type Part, type Tell, u32, version } from './bmff-parts.ts';
import { pictureTrack } from './bmff-picture.ts';
import { chunkOffset, samplesOf } from './bmff-samples.ts';
import { soundTrack } from './bmff-sound.ts';
import { stillOf } from './bmff-still.ts';
import { cameraOfTags, readTags } from './bmff-tags.ts';
import { isTimecode, readTimecode, reelOfTimecode } from './bmff-timecode.ts';
import { codecOf, type Edit } from './bmff-trak.ts';
import { count, fourcc, type Read } from './reading.ts';
import {
  NO_TIES,
  type PictureTrack,
  type SoundTrack,
  type StartTimecode,
  type Structure,
  type StructureTrack,
} from './structure.ts';

/** A file may have a timecode track for each of its tracks; each costs a read. */
const MAX_TIMECODES = 8;

const NO_EDIT: Edit = { empty: 0, skipped: 0 };

/**
 * What the index of a QuickTime or MP4 file (ISO/IEC 14496-12, QuickTime File Format) tells of it. Reads the headers of the
 * boxes of the file, the index as one block of up to 64 MiB, the headers of movie fragments, and four bytes of each timecode
 * track.
 *
 * Never throws of its own; what `read` throws passes through. What does not fit, contradicts itself or is beyond a limit is
 * in `troubles`, and what depends on it is `null`.
 * @param movie the file as opened before, to save walking it again
 */
export function bmffStructure(read: Read, size: number, movie: Movie = openMovie(read, size)): Structure {
  const troubles = [...movie.troubles];
  const tell = tellInto(troubles);
  const container = containerOf(read, movie);
  const bare = {
    container,
    tracks: [],
    timecodes: [],
    reel: null,
    camera: null,
    createdAt: null,
    ties: NO_TIES,
    troubles,
  };
  const { index } = movie;
  if (index === null) {
    const still = movie.moov === null ? stillOf(read, movie.walk.boxes, size, tell) : null;
    if (still !== null) return { ...bare, tracks: [still] };
    if (movie.moov === null) tell('there is no index (box moov)');
    return bare;
  }
  if (find(index.parts, 'cmov') !== null) {
    tell('the index is compressed (box cmov): it is not looked into');
    return bare;
  }
  const header = find(index.parts, 'mvhd');
  const reading = { read, size, movie, index, quicktime: container === 'QuickTime', header, tell };
  const tags = readTags(index.parts, tell);
  const { timecodes, reel } = timecodesOf(reading);
  return {
    ...bare,
    tracks: tracksOf(reading),
    timecodes,
    reel: reel ?? tags.reel,
    camera: cameraOfTags(tags),
    createdAt: tags.createdAt ?? movieDate(header),
  };
}

/** By the major brand; a file without `ftyp` is from before there was one, and QuickTime. */
function containerOf(read: Read, { walk }: Movie): string {
  const brands = walk.boxes.find((box) => box.type === 'ftyp');
  if (brands === undefined) return 'QuickTime';
  return fourcc(read(brands.content, 4), 0) === 'qt  ' ? 'QuickTime' : 'MP4';
}

/** What the parts of the reading have in common. */
interface Reading {
  read: Read;
  size: number;
  movie: Movie;
  index: MovieIndex;
  quicktime: boolean;
  /** Movie header. */
  header: Part | null;
  tell: Tell;
}

function tracksOf(reading: Reading): StructureTrack[] {
  const { index, movie, tell } = reading;
  const fragmented = index.extended || movie.fragments.seen > 0;
  const complete = !fragmented || (movie.fragments.seen > 0 && movie.walk.ended === 'end' && !movie.fragments.lost);
  if (!complete) tell('not every movie fragment could be counted: frames, bytes and lengths are not known');
  return index.traks.map((trak) => {
    const isPicture = trak.handler === 'vide' || trak.handler === 'pict';
    if (!isPicture && trak.handler !== 'soun') return { type: 'other', codecId: codecOf(trak.entry, []) };
    if (trak.outside) tell('the media data of a track lie in another file');
    const samples = samplesOf(trak, movie.fragments.tracks.get(trak.id) ?? null, complete, tell);
    const track = isPicture
      ? pictureTrack(trak, samples, reading.header, tell)
      : soundTrack(trak, samples, reading.quicktime);
    return trak.outside ? track : withinFile(track, reading);
  });
}

/** A track cannot have more bytes than its file, nor more pictures than bytes. */
function withinFile<T extends PictureTrack | SoundTrack>(track: T, { size, tell }: Reading): T {
  const tooMany = track.type === 'picture' && (track.frames ?? 0) > size;
  if ((track.bytes ?? 0) <= size && !tooMany) return track;
  tell(`a track states more media data than the file has room for: ${count(track.bytes ?? 0)} bytes of ${count(size)}`);
  return tooMany ? { ...track, bytes: null, frames: null } : { ...track, bytes: null };
}

/** All timecodes, those that the first picture names in front; the reel is that of the first which has one. */
function timecodesOf(reading: Reading): { timecodes: StartTimecode[]; reel: string | null } {
  const { read, movie, index, header, tell } = reading;
  const pictures = index.traks.filter((trak) => trak.handler === 'vide');
  const named = pictures[0]?.timecodes ?? [];
  const traks = index.traks.filter(isTimecode);
  const ordered = [...traks.filter(({ id }) => named.includes(id)), ...traks.filter(({ id }) => !named.includes(id))];
  if (ordered.length > MAX_TIMECODES) tell(`${ordered.length} timecode tracks: only ${MAX_TIMECODES} are looked at`);
  const movieTimescale = header === null ? 0 : u32(header, version(header) === 1 ? 20 : 12);
  const timecodes = ordered.slice(0, MAX_TIMECODES).map((trak) => {
    const picture = pictures.find((one) => one.timecodes.includes(trak.id)) ?? pictures[0];
    const times = find(trak.tables, 'stts');
    const position = {
      offset: chunkOffset(trak, 'first') ?? movie.fragments.tracks.get(trak.id)?.first ?? null,
      movieTimescale,
      picture: picture?.edit ?? NO_EDIT,
      firstRun: times === null ? null : u32(times, 12) || null,
    };
    return readTimecode(trak, position, read, tell);
  });
  const reels = ordered.map(reelOfTimecode).filter((reel) => reel !== null);
  return { timecodes: timecodes.filter((timecode) => timecode !== null), reel: reels[0] ?? null };
}
