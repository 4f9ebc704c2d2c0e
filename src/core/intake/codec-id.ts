/**
 * Codecs by the code that a container has for them, for when nothing but the container could be read: MP4 registration
 * authority's list of codecs (ISO/IEC 14496-15 for avc1 and hvc1), QuickTime file format, SMPTE RDD 36 for ProRes; the DNx, DV
 * and MPEG-2 codes are common practice, no source. The names are those of core/intake/format-name.ts.
 */
const BY_CODE: Readonly<Record<string, string>> = {
  avc1: 'H.264',
  avc3: 'H.264',
  hvc1: 'HEVC',
  hev1: 'HEVC',
  apco: 'ProRes 422 Proxy',
  apcs: 'ProRes 422 LT',
  apcn: 'ProRes 422',
  apch: 'ProRes 422 HQ',
  ap4h: 'ProRes 4444',
  ap4x: 'ProRes 4444 XQ',
  aprn: 'ProRes RAW',
  aprh: 'ProRes RAW',
  AVdn: 'DNxHD',
  AVdh: 'DNxHR',
  'dvc ': 'DV',
  dvcp: 'DV',
  dvsd: 'DV',
  dvpp: 'DV',
  dv5n: 'DV',
  dv5p: 'DV',
  v210: 'v210',
  '2vuy': '2vuy',
  mp4v: 'MPEG-4 Part 2',
  mp4a: 'AAC',
};

/** Of a four-character code; `null` for one that is not in the list, and for the labels of MXF. */
export function codecOfId(container: string, codecId: string | null): string | null {
  if (codecId === null) return null;
  // RFC 2361 code 1 is PCM.
  if (container === 'WAV' || container === 'BWF') return codecId === '0x0001' ? 'PCM' : null;
  return Object.hasOwn(BY_CODE, codecId) ? (BY_CODE[codecId] ?? null) : null;
}
