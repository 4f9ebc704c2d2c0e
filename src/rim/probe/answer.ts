import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome, RawProbe } from '../../core/root-port.ts';

/** A clip with 64 sound tracks takes some 100,000 characters; thousands of tracks are damage, and cost memory twice over. */
const MOST_CHARACTERS = 2_000_000;

/**
 * The library's JSON as an outcome. It answers everything, also where there was nothing to read: a General track without
 * a format, or a container without any track, is its way to say that this is no media.
 */
export function answerOf(json: string, stat: FileStat): ProbeOutcome {
  if (json.length > MOST_CHARACTERS)
    return { ok: false, reason: 'probe-failed', detail: 'more tracks were found in it than any clip has' };
  const tracks = tracksIn(json);
  if (tracks === null)
    return { ok: false, reason: 'probe-failed', detail: 'the answer of the media reader is not readable' };
  const format = tracks.find((track) => track['@type'] === 'General')?.['Format'];
  if (typeof format !== 'string' || format === '') {
    return { ok: false, reason: 'not-media', detail: 'its content is of no media format that is known here' };
  }
  if (tracks.every((track) => track['@type'] === 'General')) {
    return {
      ok: false,
      reason: 'not-media',
      detail: `it begins as ${format}, but no picture, sound or image is in it`,
    };
  }
  return { ok: true, raw: { structure: null, tracks, readerTrouble: null }, stat };
}

function tracksIn(json: string): RawProbe['tracks'] | null {
  try {
    const told = JSON.parse(json);
    const tracks = told?.media?.track ?? [];
    return Array.isArray(tracks) ? tracks.filter((track) => typeof track === 'object' && track !== null) : null;
  } catch {
    return null;
  }
}
