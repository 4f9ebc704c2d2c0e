import type { Clip, FileRecord, PathText } from '../model.ts';
import { makeClip } from './clip.ts';
import { type GroupedClip, groupUnit } from './group.ts';
import { filesOf } from './take-clip.ts';

/** A unit grouped from what is known of its files, without looking at any of them. */
export interface Regrouped {
  clips: Clip[];
  /** Its files, with the kinds that the group shows. */
  files: FileRecord[];
  /** False: a file that leads a clip now was never read. The other clips are there all the same. */
  complete: boolean;
}

/**
 * Groups a unit again after files came to it or left it. What was read of a clip goes with the file that it was read
 * from, and so do when it was ready and on what evidence; bytes, files and missing frames are those of the group now.
 *
 * `files`: the ready files of ONE unit. `known`: clips by where the file that they were read from lies now.
 */
export function regroup(files: readonly FileRecord[], known: ReadonlyMap<PathText, Clip>): Regrouped {
  // Nothing in the trash is a clip: its owner gave it up.
  const { wanted = [], others = [] } = Object.groupBy(files, ({ area }) =>
    area === 'trash' || area === 'system' ? 'others' : 'wanted',
  );
  const { clips: groups, loose } = groupUnit(wanted);
  const clips = groups.flatMap((group) => clipAgain(group, known) ?? []);
  return { clips, files: [...filesOf({ clips: groups, loose }), ...others], complete: clips.length === groups.length };
}

function clipAgain(group: GroupedClip, known: ReadonlyMap<PathText, Clip>): Clip | null {
  const earlier = known.get(group.essence[0]?.path ?? '');
  if (earlier === undefined || !isAsRead(earlier, group)) return null;
  return makeClip(group, earlier.state === 'not-decoded' ? null : earlier, {
    at: earlier.readyAt,
    evidence: earlier.evidence,
    troubles: earlier.troubles,
  });
}

/** Of frames one was read, and stands for all that there are. Of parts each was: what is known is of those very parts. */
function isAsRead({ parts, essenceCount, essenceBytes }: Clip, group: GroupedClip): boolean {
  if (parts === 'frames' || group.parts === 'frames') return parts === group.parts;
  return essenceCount === group.essence.length && essenceBytes === group.essenceBytes;
}

/**
 * Clips by where the file that they were read from lies now. `moves`: new paths by old ones. A clip whose file was
 * replaced by one that moved to its place is not known any more.
 */
export function clipsByLead(clips: readonly Clip[], moves: ReadonlyMap<PathText, PathText>): Map<PathText, Clip> {
  const taken = new Set(moves.values());
  const found = new Map<PathText, Clip>();
  for (const clip of clips) {
    const [lead] = clip.paths;
    if (lead === undefined) continue;
    const now = moves.get(lead) ?? (taken.has(lead) ? null : lead);
    if (now !== null) found.set(now, clip);
  }
  return found;
}
