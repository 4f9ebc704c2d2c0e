import type { AlteredFile, ListCheck } from '../cards/list-check.ts';
import type { Place } from '../cards/reconciliation.ts';
import { formatBytes, formatCount } from '../units.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { namesAndMore } from './lacking-words.ts';

/** What arrived beside what its list says of contents. All texts are escaped. */
export interface ListCheckSnapshot {
  at: IsoTime;
  /** Why the list cannot be relied on; then nothing was compared. */
  trouble: string | null;
  /** Listed files, by what became of them. `unproved`: there, and not compared. */
  files: number;
  intact: number;
  renamed: number;
  altered: number;
  missing: number;
  arriving: number;
  unproved: number;
  /** Beside the listed ones, in no list; told of media hash list histories alone. */
  fresh: number;
  /** Of the unproved those that are still to be read. */
  pending: number;
  pendingBytes: number;
  /** The first 20 of each. `format`: `null` where the sizes differ. */
  alteredFiles: { path: string; format: string | null; listed: string; found: string; at?: Place }[];
  missingFiles: string[];
  renamedFiles: { path: string; from: string }[];
  freshFiles: string[];
}

export function listCheckSnapshot(
  { mark: _, since: __, at, trouble, first, ...counts }: ListCheck,
  iso: IsoOf,
): ListCheckSnapshot {
  return {
    ...{ at: iso(at), trouble: displayOrNull(trouble), ...counts },
    alteredFiles: first.altered.map(({ path, format, listed, found, at: place }) => ({
      ...{ path: display(path), format, listed, found },
      ...(place === undefined ? {} : { at: { volume: display(place.volume), path: display(place.path) } }),
    })),
    missingFiles: first.missing.map(({ path }) => display(path)),
    renamedFiles: first.renamed.map(({ path, from }) => ({ path: display(path), from: display(from) })),
    freshFiles: first.fresh.map(display),
  };
}

/** `Clips/A002.mov (the list says md5 0a1b..., found 2c3d... at Saltmarsh/A002.mov on stripe)`. Escaped. */
export function alteredWords({
  path,
  format,
  listed,
  found,
  at,
}: Pick<AlteredFile, 'path' | 'format' | 'listed' | 'found' | 'at'>): string {
  const where = at === undefined ? '' : ` at ${display(at.path)} on ${display(at.volume)}`;
  const [says, is] =
    format === null
      ? [formatCount(Number(listed), 'byte'), formatCount(Number(found), 'byte')]
      : [`${format} ${listed}`, found];
  return `${display(path)} (the list says ${says}, found ${is}${where})`;
}

/** A list that cannot be relied on. */
export function untrustedSentence(trouble: string): string {
  return `It cannot be relied on, and no contents were compared with it: ${trouble}`;
}

/** What came of comparing contents with the list: `3 have the content that is listed; not as listed: ...`. */
export function listCheckWords(check: ListCheckSnapshot): string {
  const { files, altered, missing, arriving, renamed, fresh, unproved, pending, pendingBytes } = check;
  const alteredNames = check.alteredFiles.map(({ path }) => path);
  const renamedNames = check.renamedFiles.map(({ path, from }) => `${from} as ${path}`);
  const without = unproved - pending;
  return [
    intactWords(check),
    ...(altered === 0 ? [] : [`not as listed: ${namesAndMore(alteredNames, altered)}`]),
    ...(missing === 0 ? [] : [`not here: ${namesAndMore(check.missingFiles, missing)}`]),
    ...(renamed === 0 ? [] : [`here under another name: ${namesAndMore(renamedNames, renamed)}`]),
    ...(arriving === 0 ? [] : [`${arriving} arriving`]),
    ...(pending === 0 ? [] : [`still to be read: ${formatCount(pending, 'file')}, ${formatBytes(pendingBytes)}`]),
    ...(without === 0 ? [] : [`of ${formatCount(without, 'file')} it says nothing that can be compared`]),
    ...(fresh === 0 || files === 0 ? [] : [`beside it, in no list: ${namesAndMore(check.freshFiles, fresh)}`]),
  ].join('; ');
}

function intactWords({ files, intact }: ListCheckSnapshot): string {
  const content = 'the content that is listed';
  if (files === 0) return 'it lists no files';
  if (intact === files) return files === 1 ? `its only file has ${content}` : `all ${files} have ${content}`;
  if (intact === 0) return `none of it is known to have ${content}`;
  return `${intact} ${intact === 1 ? 'has' : 'have'} ${content}`;
}
