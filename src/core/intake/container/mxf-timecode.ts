import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import { countingRate } from '../timecode.ts';
import type { MxfPackage, Packages, TimecodeSet } from './mxf-packages.ts';
import type { StartTimecode, TimecodePlace } from './structure.ts';

/** So many frames to a label at most: 2 at 50 and 60 frames a second, where the label counts 25 and 30. */
const MAX_FRAMES_A_LABEL = 4;

/**
 * Start timecodes of all packages, the one to believe first: that of the material package, unless it is zero and another is
 * not. A tape's timecode is that of the frame on the tape with which this essence begins.
 */
export function packageTimecodes({ material, files, origins }: Packages, pictureRate: Ratio | null): StartTimecode[] {
  const told = (place: TimecodePlace, one: MxfPackage | null | undefined, seconds: number | null) =>
    (one?.tracks ?? []).flatMap(({ timecode, editRate }) => {
      const started = timecode === null ? null : startOf(timecode, editRate, pictureRate, seconds);
      return started === null ? [] : [{ place, ...started }];
    });
  const materials = told('material-package', material, 0);
  const others = [
    ...origins.flatMap((origin) => told('physical-package', origin.package, origin.seconds)),
    ...told('file-package', files[0], 0),
  ];
  const isSet = ({ frame }: StartTimecode) => frame !== 0;
  const first = materials[0] === undefined || !isSet(materials[0]) ? others.find(isSet) : undefined;
  const all = [...materials, ...others];
  return first === undefined ? all : [first, ...all.filter((one) => one !== first)];
}

/**
 * The start counts in frames of the component's own base (ST 377-1 annex B), whatever the edit rate of the track: a track of
 * sound may have 48,000 edit units a second.
 * @param seconds to be added: how far into the package the essence begins; `null`: not known, and then nothing is
 */
function startOf(
  timecode: TimecodeSet,
  editRate: Ratio | null,
  pictureRate: Ratio | null,
  seconds: number | null,
): Omit<StartTimecode, 'place'> | null {
  if (seconds === null) return null;
  const counted = countedRate(timecode.base, editRate) ?? countedRate(timecode.base, pictureRate);
  const rate = counted ?? nominalRate(timecode);
  const notes = counted === null ? [`the rate is told only as ${timecode.base} a second`] : [];
  const drop = timecode.drop && knowsDrop(rate);
  if (drop !== timecode.drop) notes.push('marked drop-frame at a rate that has none');
  const frame = timecode.start + Math.round((seconds * rate.num) / rate.den);
  return { frame, rate, drop, note: notes.length === 0 ? null : notes.join('; ') };
}

/** The exact rate at which labels of this base count, from a rate of edit units that is it or a small multiple of it. */
function countedRate(base: number, editRate: Ratio | null): Ratio | null {
  if (editRate === null) return null;
  const rate = exact(editRate);
  const frames = Math.round(rate.num / rate.den / base);
  if (frames < 1 || frames > MAX_FRAMES_A_LABEL) return null;
  const counted = exact({ num: rate.num, den: rate.den * frames });
  return countingRate(counted) === base ? counted : null;
}

/** Drop-frame is known at 29.97 and its multiples alone (SMPTE ST 12-1); other bases are taken as they stand. */
function nominalRate({ base, drop }: TimecodeSet): Ratio {
  return drop && base % 30 === 0 ? { num: base * 1000, den: 1001 } : { num: base, den: 1 };
}

function knowsDrop({ num, den }: Ratio): boolean {
  return den === 1001 && (num === 30_000 || num === 60_000);
}
