import type { Ratio } from '../../model.ts';
import { readTags } from './wave-tags.ts';

/** What a recorder notes of a take beside the sound. */
export interface SoundNotes {
  scene: string | null;
  take: string | null;
  /** Name of the tape, or of what stands for it: the reel. */
  tape: string | null;
  /** Files recorded at once have the same. */
  family: string | null;
  /** How many tracks the notes list; `null`: not told. */
  tracks: number | null;
  clock: NotedClock;
}

/** How the recorder's timecode ran. */
export interface NotedClock {
  rate: Ratio | null;
  drop: boolean | null;
  /** Samples after midnight, and how many of them the notes count in a second. */
  samples: bigint | null;
  samplesPerSecond: number | null;
}

export const NO_NOTES: SoundNotes = {
  scene: null,
  take: null,
  tape: null,
  family: null,
  tracks: null,
  clock: { rate: null, drop: null, samples: null, samplesPerSecond: null },
};

/** Elements of the iXML specification (published by its authors, revision 2.10), below the root. */
const PATHS = {
  scene: 'BWFXML/SCENE',
  take: 'BWFXML/TAKE',
  tape: 'BWFXML/TAPE',
  family: 'BWFXML/FILE_SET/FAMILY_UID',
  tracks: 'BWFXML/TRACK_LIST/TRACK_COUNT',
  rate: 'BWFXML/SPEED/TIMECODE_RATE',
  flag: 'BWFXML/SPEED/TIMECODE_FLAG',
  high: 'BWFXML/SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI',
  low: 'BWFXML/SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO',
  perSecond: 'BWFXML/SPEED/TIMESTAMP_SAMPLE_RATE',
} as const;
const WANTED: ReadonlySet<string> = new Set(Object.values(PATHS));

/** Faster than any camera that sound is recorded for. */
const MAX_RATE = 240;

/** Reads an iXML chunk. `troubles` gets what is damaged in it. */
export function ixmlNotes(bytes: Uint8Array, troubles: string[]): SoundNotes {
  // Padded with zeros where a recorder keeps room for later.
  const end = bytes.indexOf(0);
  const xml = new TextDecoder('utf-8').decode(end === -1 ? bytes : bytes.subarray(0, end));
  if (xml.trim() === '') return NO_NOTES;
  const { values, trouble } = readTags(xml, WANTED);
  if (trouble !== null) troubles.push(`the notes (iXML) are damaged: ${trouble}`);
  const told = (key: keyof typeof PATHS) => values.get(PATHS[key]) ?? null;
  const perSecond = whole(told('perSecond'));
  return {
    scene: told('scene'),
    take: told('take'),
    tape: told('tape'),
    family: told('family'),
    tracks: Number(whole(told('tracks')) ?? 0n) || null,
    clock: {
      rate: rateOf(told('rate'), troubles),
      drop: dropOf(told('flag')),
      samples: joined(whole(told('high')), whole(told('low'))),
      samplesPerSecond: perSecond === null || perSecond === 0n ? null : Number(perSecond),
    },
  };
}

/** `30000/1001`, `25/1`; a bare whole number is taken as one. */
function rateOf(text: string | null, troubles: string[]): Ratio | null {
  if (text === null) return null;
  const parts = /^(\d{1,6})(?:\s*\/\s*(\d{1,5}))?$/.exec(text);
  const num = Number(parts?.[1] ?? 0);
  const den = Number(parts?.[2] ?? 1);
  if (num > 0 && den > 0 && num >= den && num / den <= MAX_RATE) return { num, den };
  troubles.push('the notes (iXML) give a timecode rate that is none');
  return null;
}

function dropOf(flag: string | null): boolean | null {
  return flag === 'DF' ? true : flag === 'NDF' ? false : null;
}

/** A number of up to 32 bits. */
function whole(text: string | null): bigint | null {
  const value = text !== null && /^\d{1,10}$/.test(text) ? BigInt(text) : null;
  return value !== null && value <= 0xffff_ffffn ? value : null;
}

function joined(high: bigint | null, low: bigint | null): bigint | null {
  return low === null ? null : ((high ?? 0n) << 32n) + low;
}

/**
 * What recorders write in the description of the sound header: `sSCENE=12`, `sTAKE=3`, one a line, the first letter
 * differing by maker (common practice, no source). A value ends with its line or in front of the next such key.
 */
export function describedNotes(description: string): Pick<SoundNotes, 'scene' | 'take' | 'tape'> {
  const told = (key: string) => {
    const line = new RegExp(`(?:^|[\\s])[a-z]?${key}=([^\\r\\n]*)`).exec(description)?.[1] ?? '';
    const value = (line.split(/\s[a-z]?[A-Z][A-Z0-9_]*=/)[0] ?? '').trim();
    return value === '' ? null : value;
  };
  return { scene: told('SCENE'), take: told('TAKE'), tape: told('TAPE') };
}
