import { DEFAULT_IGNORE } from '../backup/mhl-ignore.ts';
import { HASH_FORMATS, type HashValues, type NowFile } from '../backup/mhl-model.ts';
import { compare } from '../backup/mhl-verdict.ts';
import { commonFormat, fastestFormat, type SumFormat, type Sums } from '../backup/sums.ts';
import { joinPath } from '../intake/path-text.ts';
import type { Instant, PathText } from '../model.ts';
import type { ArrivedVersion, KnownList, KnownListed } from './known-list.ts';
import type { Place } from './reconciliation.ts';

/**
 * A listed file that is not what the list says. `format`: in which the two were compared; `null`: the sizes differ. `at`:
 * where it lies, when the list does not lie with it.
 */
export interface AlteredFile {
  path: PathText;
  size: number;
  format: SumFormat | null;
  listed: string;
  found: string;
  at?: Place;
}

/** A list set beside what arrived of it, by content as far as contents are known. Serialisable. */
export interface ListCheck {
  /** Changes whenever the list or what lies there is another. */
  mark: string;
  at: Instant;
  /** Since when something is known to be altered. */
  since?: Instant | null;
  /** Why the list cannot be relied on; `null`: it can. Then nothing else is told. */
  trouble: string | null;
  /** Listed files, by what became of each. `unproved`: there, and the list has no value that could be compared. */
  files: number;
  intact: number;
  renamed: number;
  altered: number;
  missing: number;
  arriving: number;
  unproved: number;
  /** Files beside the listed ones that stand in no list; told of histories alone. */
  fresh: number;
  /** Of the unproved those that are still to be read, and their bytes. */
  pending: number;
  pendingBytes: number;
  /** The first of each, in order of their paths. */
  first: {
    altered: AlteredFile[];
    missing: { path: PathText; size: number | null }[];
    renamed: { path: PathText; from: PathText }[];
    fresh: PathText[];
  };
}

/** A file that is to be read, and the format in which its hash is wanted. */
export interface ToRead {
  version: ArrivedVersion;
  format: SumFormat;
  /** It was read as something else than is listed, and changed since. */
  isAgain: boolean;
}

/** More than this of one kind is not kept by name. */
export const MOST_KEPT = 20;

export interface ListSides {
  list: KnownList;
  base: PathText;
  /** What lies at the listed places; for a history everything below its folder, or `whole` is false. */
  now: readonly ArrivedVersion[];
  whole: boolean;
}

type Verdict =
  | { is: 'intact' | 'unproved' | 'arriving'; path: PathText }
  | ({ is: 'altered' } & AlteredFile)
  | { is: 'renamed'; path: PathText; from: PathText }
  | { is: 'fresh'; path: PathText }
  | { is: 'missing'; path: PathText; size: number | null };

/** Judges every file of a list. Files that are still arriving are not judged. */
export function checkList(sides: ListSides, mark: string, at: Instant): ListCheck {
  const verdicts = verdictsOf(sides);
  const unread = filesToRead(sides).filter(({ isAgain }) => !isAgain);
  const of = <Is extends Verdict['is']>(is: Is) =>
    verdicts
      .filter((one): one is Extract<Verdict, { is: Is }> => one.is === is)
      .sort((one, other) => (one.path < other.path ? -1 : 1));
  const [altered, missing, renamed, fresh] = [of('altered'), of('missing'), of('renamed'), of('fresh')];
  return {
    ...{ mark, at, trouble: null, files: sides.list.files.length },
    ...{ intact: of('intact').length, renamed: renamed.length, altered: altered.length, missing: missing.length },
    ...{ arriving: of('arriving').length, unproved: of('unproved').length, fresh: fresh.length },
    pending: unread.length,
    pendingBytes: unread.reduce((sum, { version }) => sum + version.size, 0),
    first: {
      altered: altered.slice(0, MOST_KEPT).map(({ is: _, ...one }) => one),
      missing: missing.slice(0, MOST_KEPT).map(({ path, size }) => ({ path, size })),
      renamed: renamed.slice(0, MOST_KEPT).map(({ path, from }) => ({ path, from })),
      fresh: fresh.slice(0, MOST_KEPT).map(({ path }) => path),
    },
  };
}

/** A list that cannot be relied on. */
export function untrusted(detail: string, mark: string, at: Instant): ListCheck {
  const none = { files: 0, intact: 0, renamed: 0, altered: 0, missing: 0, arriving: 0, unproved: 0, fresh: 0 };
  const first = { altered: [], missing: [], renamed: [], fresh: [] };
  return { mark, at, trouble: detail, ...none, pending: 0, pendingBytes: 0, first };
}

/**
 * Files whose hash is not known in a format that their list has, of the size that it has; and those that were read as
 * something else and changed since: they may have been copied again, and are altered for as long as that is not known. Of a history with missing files
 * also those that stand in no list and are as long as one of these: they may be one that was renamed.
 */
export function filesToRead({ list, base, now, whole }: ListSides): ToRead[] {
  const listed = new Map(list.files.map((file) => [joinPath(base, file.path), file]));
  const there = new Set(now.map(({ path }) => path));
  const lost = list.files.filter(({ path, size }) => size !== null && size > 0 && !there.has(joinPath(base, path)));
  const lostBySize = Map.groupBy(lost, ({ size }) => size);
  return now.flatMap((version): ToRead[] => {
    if (version.isArriving) return [];
    const own = listed.get(version.path);
    const stranger =
      own === undefined && whole && list.kind === 'history' ? lostBySize.get(version.size)?.[0] : undefined;
    const file = own ?? stranger;
    if (file === undefined || (file.size !== null && file.size !== version.size)) return [];
    const format = fastestFormat(file.sums);
    if (format === null) return [];
    if (commonFormat(file.sums, version.sums) === null) return [{ version, format, isAgain: false }];
    const isAgain = own !== undefined && version.changedSince && judge(own, version).is === 'altered';
    return isAgain ? [{ version, format, isAgain }] : [];
  });
}

function verdictsOf(sides: ListSides): Verdict[] {
  return sides.list.kind === 'history' && sides.whole ? ofHistory(sides) : ofList(sides);
}

function ofList({ list, base, now }: ListSides): Verdict[] {
  const there = new Map(now.map((version) => [version.path, version]));
  return list.files.map((file): Verdict => {
    const version = there.get(joinPath(base, file.path));
    if (version === undefined) return { is: 'missing', path: file.path, size: file.size };
    return version.isArriving ? { is: 'arriving', path: file.path } : judge(file, version);
  });
}

function judge(file: KnownListed, { size, sums }: Pick<ArrivedVersion, 'size' | 'sums'>): Verdict {
  const { path } = file;
  const format = commonFormat(file.sums, sums);
  if (format !== null && file.sums[format] === sums[format]) return { is: 'intact', path };
  if (format !== null) return { is: 'altered', path, size, format, ...valuesOf(file.sums, sums, format) };
  if (file.size === null || file.size === size) return { is: 'unproved', path };
  return { is: 'altered', path, size, format: null, listed: `${file.size}`, found: `${size}` };
}

function valuesOf(listed: Sums, found: Sums, format: SumFormat): { listed: string; found: string } {
  return { listed: listed[format] ?? '', found: found[format] ?? '' };
}

/** As the standard tells them apart; what is arriving is neither there nor missing. */
function ofHistory({ list, base, now }: ListSides): Verdict[] {
  const known = new Map(list.files.map((file) => [file.path, file]));
  const below = (path: PathText) => (base === '' ? path : path.slice(base.length + 1));
  const arriving = new Set(now.filter(({ isArriving }) => isArriving).map(({ path }) => below(path)));
  const versions = new Map(
    now.filter(({ isArriving }) => !isArriving).map((version) => [below(version.path), version]),
  );
  const verdicts = compare(
    {
      files: new Map(list.files.map((file) => [file.path, { ...file, values: hashValues(file.sums) }])),
      ignore: list.ignore,
    },
    [...versions].map(([path, { size, sums }]) => nowFile(path, size, sums)),
    { whole: true, ignore: DEFAULT_IGNORE },
  );
  return verdicts.map((one): Verdict => {
    if (one.kind === 'missing') {
      const { path, size } = one;
      return arriving.has(path) ? { is: 'arriving', path } : { is: 'missing', path, size };
    }
    const { path, size } = one.file;
    if (one.kind === 'renamed') return { is: 'renamed', path, from: one.from };
    if (one.kind === 'new') return { is: 'fresh', path };
    const [file, version] = [known.get(path), versions.get(path)];
    return file === undefined || version === undefined
      ? { is: 'unproved', path }
      : judge(file, { size, sums: version.sums });
  });
}

function hashValues(sums: Sums): HashValues {
  return Object.fromEntries(
    HASH_FORMATS.flatMap((format) => (sums[format] === undefined ? [] : [[format, sums[format]]])),
  );
}

function nowFile(path: PathText, size: number, sums: Sums): NowFile {
  return { path, size, modifiedAt: null, values: hashValues(sums), hashedAt: null, previousPath: null };
}
