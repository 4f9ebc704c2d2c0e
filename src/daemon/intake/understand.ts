import { messageOf } from '../../core/fault.ts';
import { type CardList, listScope, parseCardList } from '../../core/intake/card-list.ts';
import { makeClip } from '../../core/intake/clip.ts';
import { combineFacts } from '../../core/intake/combine-facts.ts';
import type { KnownFacts } from '../../core/intake/fact-sources.ts';
import { type GroupedClip, groupUnit } from '../../core/intake/group.ts';
import { isMedia } from '../../core/intake/kind.ts';
import { knowFile } from '../../core/intake/know.ts';
import { extension } from '../../core/intake/path-text.ts';
import { filesOf } from '../../core/intake/take-clip.ts';
import type { Clip, FileRecord, Instant, PathText } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import type { ProbeOutcome, RootPort } from '../../core/root-port.ts';

/** The files of a unit, understood: its clips, and every file with the kind that the group shows. */
export interface Understood {
  clips: Clip[];
  /** Names of the clips whose essence is new or changed; of the others only something beside it is. */
  fresh: ReadonlySet<string>;
  files: FileRecord[];
  /** What lists of a card among them say; `null`: it says nothing that is known here. */
  lists: { path: PathText; list: CardList | null }[];
  /** Of these files those that were ready before, and nobody looked at now. */
  beside: ReadonlySet<PathText>;
}

export type Understanding = { ok: true; understood: Understood } | ({ ok: false } & Failure);

/** Why a unit gives no clip, and which file that is about. `not-answered`: nothing was found out of it. */
interface Failure {
  reason: 'unreadable' | 'changed-meanwhile' | 'not-answered';
  detail: string;
  path: PathText;
}

export interface UnderstandDeps {
  root: RootPort;
  log: Log;
  at: () => Instant;
}

/**
 * group > probe > facts: reads each clip of a unit that has settled. A format that no reader knows is a clip all the
 * same (`not-decoded`): in doubt it is an original, and its bytes count. Only a file that cannot be read, or that
 * changed while it was read, gives no clip.
 *
 * `seen` are the paths that have settled now. Of the others only those that were ready before are taken: one that is
 * still arriving, or refused, is no part of the clip yet.
 */
export async function understand(
  files: readonly FileRecord[],
  seen: ReadonlySet<PathText>,
  evidence: Clip['evidence'],
  deps: UnderstandDeps,
): Promise<Understanding> {
  const complete = files.filter(({ path, state }) => state === 'ready' || seen.has(path));
  const { clips: groups, loose } = groupUnit(complete);
  const clips: Clip[] = [];
  for (const group of groups) {
    const outcome = await probeGroup(group, deps);
    if ('failure' in outcome) return { ok: false, ...outcome.failure };
    clips.push(makeClip(group, outcome.known, { at: deps.at(), evidence, troubles: outcome.troubles }));
  }
  const fresh = groups.filter(({ essence }) => essence.some(({ path }) => seen.has(path))).map(({ name }) => name);
  const kept = filesOf({ clips: groups, loose });
  return {
    ok: true,
    understood: {
      clips,
      lists: await readLists(kept, deps),
      fresh: new Set(fresh),
      files: kept.map((file) => ({ ...file, state: 'ready' as const })),
      beside: new Set(kept.map(({ path }) => path).filter((path) => !seen.has(path))),
    },
  };
}

/** A list that cannot be read joins nothing: the clips stay what they are. */
async function readLists(files: readonly FileRecord[], { root, log }: UnderstandDeps): Promise<Understood['lists']> {
  const lists: Understood['lists'] = [];
  for (const file of files) {
    if (listScope(file.path) === null) continue;
    const content = await root
      .content(file)
      .catch((error: unknown) => ({ ok: false as const, detail: messageOf(error) }));
    const list = content.ok ? parseCardList(file.path, content.bytes) : null;
    if (!content.ok) log.debug({ path: file.path, detail: content.detail }, 'a list of a card cannot be read');
    lists.push({ path: file.path, list });
  }
  return lists;
}

/** `known` is `null` where no reader knows the format; `troubles` say why. */
type Probed = { known: KnownFacts | null; troubles: string[] } | { failure: Failure };

/** Each essence file is read; of numbered frames the first stands for all. */
async function probeGroup(group: GroupedClip, deps: UnderstandDeps): Promise<Probed> {
  const wanted = group.parts === 'frames' ? group.essence.slice(0, 1) : group.essence;
  const members: (KnownFacts | null)[] = [];
  const troubles: string[] = [];
  for (const file of wanted) {
    const probed = await probeFile(file, group, deps);
    if ('failure' in probed) return probed;
    members.push(probed.known);
    troubles.push(...probed.troubles);
  }
  return { known: combineFacts(group, members), troubles };
}

async function probeFile(file: FileRecord, group: GroupedClip, deps: UnderstandDeps): Promise<Probed> {
  if (!isMedia(group.kind, extension(file.path))) return { known: null, troubles: [] };
  deps.log.debug({ event: 'probe', volume: file.volume, path: file.path }, 'probe');
  let outcome: ProbeOutcome;
  try {
    outcome = await deps.root.probe(file);
  } catch (error) {
    // The root is away, or its process was lost in mid-probe: that says nothing about the file.
    return { failure: { reason: 'not-answered', detail: messageOf(error), path: file.path } };
  }
  if (outcome.ok) {
    const known = knowFile(outcome.raw, { sizeBytes: file.size, extension: extension(file.path) });
    if (known === null) return notDecoded(file, group, 'no picture and no sound was found in it', deps);
    if (outcome.raw.readerTrouble !== null) tellHalfRead(file, group, outcome.raw.readerTrouble, deps);
    return { known, troubles: [] };
  }
  if (outcome.reason === 'unreadable' || outcome.reason === 'changed-meanwhile') {
    return { failure: { reason: outcome.reason, detail: outcome.detail, path: file.path } };
  }
  return notDecoded(file, group, outcome.detail, deps);
}

function notDecoded({ path }: FileRecord, { name }: GroupedClip, why: string, { log }: UnderstandDeps): Probed {
  log.warn({ path, why }, `${name} is not decoded: ${why}. Its bytes count; check that it plays, and keep the card.`);
  return { known: null, troubles: [why] };
}

function tellHalfRead({ path }: FileRecord, { name }: GroupedClip, why: string, { log }: UnderstandDeps): void {
  log.warn(
    { path, why },
    `${name}: ${why}. What its container tells is shown; check that it plays, and keep the card.`,
  );
}
