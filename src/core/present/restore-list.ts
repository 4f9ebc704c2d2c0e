import { formatBytes, formatCount } from '../units.ts';
import { display } from './escape.ts';
import { wrap } from './text.ts';

/** Files of a volume that are on a shelf and no longer on the volume. */
export interface LostOnShelf {
  volume: string;
  shelf: string;
  /** Where both are mounted, absolute. */
  volumePath: string;
  shelfPath: string;
  /** `path`: below the volume's root, as it was; `verified`: read back from the shelf's medium, when last. */
  files: { path: string; size: number; verified: boolean; readAt: string }[];
}

/** With the sign before it, a row of 80 columns. */
const REMARK_COLUMNS = 78;

/** Ends the list in a shell's here-document. */
const END = 'END_OF_LIST';

/**
 * What to bring back from where: in words, and as a command line of rsync for whoever wants to type it. headroomd itself brings nothing back. Names that
 * a list with one name in each line cannot have are told apart.
 */
export function restoreList(lost: readonly LostOnShelf[]): string {
  const some = lost.filter(({ files }) => files.length > 0);
  if (some.length === 0) return 'Nothing: what has copies on the shelves is on its volume, or in its trash.\n';
  return some.map(oneShelf).join('\n');
}

function oneShelf({ volume, shelf, volumePath, shelfPath, files }: LostOnShelf): string {
  const bytes = files.reduce((sum, { size }) => sum + size, 0);
  const unverified = files.filter(({ verified }) => !verified).length;
  const oldest = files.map(({ readAt }) => readAt).sort()[0] ?? '';
  const lines = files.filter(({ path }) => isLine(path)).map(({ path }) => path);
  const odd = files.filter(({ path }) => !isLine(path)).map(({ path }) => path);
  const much = `${formatCount(files.length, 'file')} (${formatBytes(bytes)}) of ${display(volume)}`;
  return [
    ...remark(
      `${much} ${files.length === 1 ? 'is' : 'are'} on ${display(shelf)} and no longer on the volume; each was read there on ${oldest.slice(0, 10)} or later.`,
    ),
    ...(unverified === 0
      ? []
      : remark(`Of ${formatCount(unverified, 'file')} it is not sure that what was read came from the drive.`)),
    ...remark(
      'headroomd brings nothing back itself. This does, and overwrites nothing; the next backup reads what came back and knows it by its content:',
    ),
    ...(lines.length === 0
      ? []
      : [
          `rsync -a --ignore-existing --files-from=- ${quoted(`${shelfPath}/${volume}/`)} ${quoted(`${volumePath}/`)} <<'${END}'`,
          ...lines,
          END,
        ]),
    ...odd.flatMap((path) => remark(`by hand, for its name is no line of text: ${display(path)}`)),
    '',
  ].join('\n');
}

/** In a shell's words: each line is one, on a narrow screen too. */
function remark(text: string): string[] {
  return wrap(text, REMARK_COLUMNS).map((line) => `# ${line}`);
}

/** Can a list of lines have it as it is? Line breaks, bytes that are no UTF-8 (U+F780 to U+F7FF stand for them), and what rsync takes for a remark. */
function isLine(path: string): boolean {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is looked for.
  return !/[\u0000-\u001f\u007f\uf780-\uf7ff]/.test(path) && !/^[#;]/.test(path) && path !== END;
}

/** For a shell, POSIX.1-2024 2.2.2. */
function quoted(text: string): string {
  return `'${text.replaceAll("'", `'\\''`)}'`;
}
