import { type RawTrack, text } from './raw-track.ts';

/** What the trade calls a codec, its profile and the container, from what the probe library calls them. */

export interface CodecName {
  codec: string | null;
  profile: string | null;
}

const CODECS: Readonly<Record<string, string>> = {
  AVC: 'H.264',
  HEVC: 'HEVC',
  VVC: 'VVC',
  DV: 'DV',
  'MPEG-4 Visual': 'MPEG-4 Part 2',
  'MPEG Audio': 'MPEG audio',
};

/** A plain "DVCAM" is what the library calls every 625-line DV stream without sound mode flags: a guess, not a finding. */
const GUESSED = new Set(['DVCAM']);

/** Names of a picture, still or sound track. */
export function codecName(track: RawTrack | undefined): CodecName {
  const format = text(track, 'Format');
  if (format === null) return { codec: null, profile: null };
  const commercial = text(track, 'Format_Commercial_IfAny');
  const profile = text(track, 'Format_Profile');
  switch (format) {
    case 'ProRes':
    case 'ProRes RAW':
      return { codec: profile === null ? format : `${format} ${profile}`, profile };
    case 'VC-3':
      return vc3Name(commercial, profile);
    case 'MPEG Video':
      return { codec: `MPEG-${text(track, 'Format_Version') ?? '2'}`, profile: mpeg2Profile(track, commercial) };
    case 'YUV':
    case 'RGB':
      return { codec: uncompressedName(text(track, 'CodecID'), format), profile: null };
    default: {
      const named = commercial === null || GUESSED.has(commercial) || commercial === format ? null : commercial;
      return { codec: CODECS[format] ?? format, profile: named ?? withLevel(track, '@L') };
    }
  }
}

/** `DNxHR HQX` and the like name codec and profile; `DNxHD 145` names the rate at one frame rate, so only the profile. */
function vc3Name(commercial: string | null, profile: string | null): CodecName {
  const resolutionIndependent = /^DNxHR (.+)$/.exec(commercial ?? '')?.[1];
  if (resolutionIndependent !== undefined)
    return { codec: `DNxHR ${resolutionIndependent}`, profile: resolutionIndependent };
  if (profile === 'RI') return { codec: 'DNxHR', profile: commercial };
  return { codec: 'DNxHD', profile: commercial };
}

function mpeg2Profile(track: RawTrack | undefined, commercial: string | null): string | null {
  const wronglyD10 = commercial !== null && /^IMX /.test(commercial) && d10Megabits(track) === null;
  return commercial === null || wronglyD10 ? withLevel(track, '@') : commercial;
}

/** Rate of a D-10 stream (30, 40 or 50 Mb/s), or `null`: the library calls any 4:2:2 MPEG-2 of that rate so, HD as well. */
export function d10Megabits(track: RawTrack | undefined): number | null {
  const megabits = /^IMX (30|40|50)$/.exec(text(track, 'Format_Commercial_IfAny') ?? '')?.[1];
  const isStandardDefinition = text(track, 'Width') === '720' && text(track, 'BitRate_Mode') === 'CBR';
  return megabits !== undefined && isStandardDefinition ? Number(megabits) : null;
}

/** `v210`, `2vuy` and other four-character codes are names of the trade; anything else is uncompressed. */
function uncompressedName(codecId: string | null, format: string): string {
  return codecId !== null && /^[A-Za-z0-9]{4}$/.test(codecId) ? codecId : `uncompressed ${format}`;
}

function withLevel(track: RawTrack | undefined, sign: string): string | null {
  const profile = text(track, 'Format_Profile');
  const level = text(track, 'Format_Level');
  return profile !== null && level !== null ? `${profile}${sign}${level}` : profile;
}

/** Container: `QuickTime`, `MP4`, `MXF OP1a`, `BWF`, `DPX`...; the library's own name where the trade has no other. */
export function containerName(general: RawTrack | undefined, hasSoundHeader: boolean): string | null {
  const format = text(general, 'Format');
  const profile = text(general, 'Format_Profile');
  switch (format) {
    case 'MPEG-4':
      return profile === 'QuickTime' ? 'QuickTime' : 'MP4';
    case 'MXF':
      return profile === null ? 'MXF' : `MXF ${profile.replace(/^OP-(\d)/, 'OP$1')}`;
    case 'Wave':
      return hasSoundHeader ? 'BWF' : 'WAV';
    default:
      return format;
  }
}
