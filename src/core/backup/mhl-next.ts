import type { PathText } from '../model.ts';
import { normalValue } from './mhl-hash-value.ts';
import { HASH_FORMATS, type HashAction, type HashEntry, type ListedFile, type NowFile } from './mhl-model.ts';
import { pathForList, type Unwritable } from './mhl-text.ts';
import type { FileVerdict } from './mhl-verdict.ts';

/**
 * Why a file does not stand in the next generation. `no-hash`: there is no value of it, or one that is none of its format;
 * `twice`: it was told twice; `unproved`: see FileVerdict.
 */
export type RefusedReason = Unwritable | 'no-hash' | 'twice' | 'unproved';

export interface Refused {
  path: PathText;
  reason: RefusedReason;
}

/** Parts what can stand in a list from what cannot. */
export function partWritable(now: readonly NowFile[]): { files: NowFile[]; refused: Refused[] } {
  const files: NowFile[] = [];
  const refused: Refused[] = [];
  const seen = new Set<PathText>();
  for (const file of now) {
    const reason = seen.has(file.path) ? 'twice' : whyNot(file);
    seen.add(file.path);
    if (reason === null) files.push(file);
    else refused.push({ path: file.path, reason });
  }
  return { files, refused };
}

/**
 * The entries of the next generation (specification, 5.6.4): what is new is `original`, what is as the history
 * vouches `verified`, what is not `failed`. A value in a format of which the history has none is verified by those that it
 * has. Missing files have no entry; a rename is told here, and in no later generation.
 */
export function nextEntries(verdicts: readonly FileVerdict[]): { files: ListedFile[]; refused: Refused[] } {
  const files: ListedFile[] = [];
  const refused: Refused[] = [];
  for (const verdict of verdicts) {
    if (verdict.kind === 'missing') continue;
    if (verdict.kind === 'unproved') refused.push({ path: verdict.file.path, reason: 'unproved' });
    else files.push(entryOf(verdict));
  }
  return { files, refused };
}

function entryOf(verdict: Exclude<FileVerdict, { kind: 'missing' | 'unproved' }>): ListedFile {
  const { path, size, modifiedAt } = verdict.file;
  const from = 'from' in verdict ? verdict.from : null;
  return { path, size, modifiedAt, hashes: hashesOf(verdict), previousPath: from };
}

/** Of an altered file those values alone that differ: one that the history does not have is proved by nothing. */
function hashesOf(verdict: Exclude<FileVerdict, { kind: 'missing' | 'unproved' }>): HashEntry[] {
  const { values, hashedAt } = verdict.file;
  const wrong = verdict.kind === 'altered' ? verdict.wrong : [];
  const action: HashAction = verdict.kind === 'altered' ? 'failed' : verdict.kind === 'new' ? 'original' : 'verified';
  return HASH_FORMATS.flatMap((format) => {
    const value = values[format];
    if (value === undefined || (wrong.length > 0 && !wrong.includes(format))) return [];
    return [{ format, value, action, hashedAt }];
  });
}

function whyNot({ path, values, previousPath }: NowFile): RefusedReason | null {
  for (const one of previousPath === null ? [path] : [path, previousPath]) {
    const fit = pathForList(one);
    if ('unwritable' in fit) return fit.unwritable;
  }
  const given = HASH_FORMATS.filter((format) => values[format] !== undefined);
  const isGood = given.every((format) => normalValue(format, values[format] ?? '') === values[format]);
  return given.length > 0 && isGood ? null : 'no-hash';
}
