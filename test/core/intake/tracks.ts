import { readerFacts } from '../../../src/core/intake/facts.ts';
import type { ClipFacts } from '../../../src/core/model.ts';
import type { RawProbe } from '../../../src/core/root-port.ts';

/*
 * Answers here have the shape of mediainfo.js 0.3.8; each case was seen in a real answer unless it says otherwise. What the
 * library really answers for real files is held to ffprobe and to published sizes in test/outside.
 */

export type Track = RawProbe['tracks'][number];

export function facts(tracks: Track[], sizeBytes = 10_000_000, extension = 'mov'): ClipFacts {
  return readerFacts({ tracks }, { sizeBytes, extension });
}

export const general = (fields: Track = {}): Track => ({
  '@type': 'General',
  Format: 'MPEG-4',
  Format_Profile: 'QuickTime',
  ...fields,
});
export const mxf = (fields: Track = {}): Track => general({ Format: 'MXF', Format_Profile: 'OP-1a', ...fields });
export const video = (fields: Track = {}): Track => ({
  '@type': 'Video',
  Format: 'AVC',
  FrameRate_Mode: 'CFR',
  FrameRate_Num: '25',
  FrameRate_Den: '1',
  FrameRate: '25.000',
  FrameCount: '100',
  Duration: '4.000',
  ...fields,
});
export const timecodeTrack = (fields: Track): Track => ({ '@type': 'Other', Type: 'Time code', ...fields });
