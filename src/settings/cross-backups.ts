import { indicesAt, textAt, textsAt, type WrittenText } from './look.ts';
import { locate, type Tree } from './position.ts';
import { didYouMean, foundText, keyText, problemAt } from './problem.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort } from './show.ts';

/** Backups that name a volume or a shelf that is not in the file, or the same way twice. */
export function backupProblems(tree: Tree): SettingsProblem[] {
  const volumes = namesOf(tree, 'volume');
  const shelves = namesOf(tree, 'shelf');
  const ways = new Map<string, WrittenText>();
  return indicesAt(tree, ['backup']).flatMap((index) => {
    const from = textAt(tree, ['backup', index, 'from']);
    const to = textsAt(tree, ['backup', index, 'to']);
    return [
      ...(from === null ? [] : unknownName(from, 'volume', volumes)),
      ...to.flatMap((shelf) => unknownName(shelf, 'shelf', shelves)),
      ...(from === null ? [] : to.flatMap((shelf) => repeatedWay(from, shelf, ways))),
      ...commandProblems(tree, index),
    ];
  });
}

/** A way must lead somewhere; and what belongs to a command is nothing without one. */
function commandProblems(tree: Tree, index: number): SettingsProblem[] {
  const { node } = locate(tree, ['backup', index]);
  const written = node.kind === 'table' ? node.entries : new Map<string, Tree>();
  const at = (key: string) => ['backup', index, key];
  const missing = (key: string, expected: string) => [problemAt(node.at, at(key), expected, 'nothing')];
  if (!written.has('command')) {
    const lost = ['name', 'read_back'].flatMap((key) => {
      const entry = written.get(key);
      return entry === undefined ? [] : [problemAt(entry.at, at(key), 'only beside a command', foundText(entry))];
    });
    return written.has('to') ? lost : [...missing('to', 'a list of shelves, like ["shelf-a"], or a command'), ...lost];
  }
  return [
    ...(written.has('name') ? [] : missing('name', 'a name for what the command copies to, like "tape"')),
    ...argumentProblems(tree, index),
  ];
}

function argumentProblems(tree: Tree, index: number): SettingsProblem[] {
  const path = ['backup', index, 'command'];
  const [program, ...rest] = textsAt(tree, path);
  if (program === undefined) return [];
  const { node } = locate(tree, path);
  return [
    ...(program.text.startsWith('/')
      ? []
      : [problemAt(program.at, program.path, 'the whole path of a program, from the root', quotedShort(program.text))]),
    ...(rest.some(({ text }) => text.includes('{list}'))
      ? []
      : [problemAt(node.at, path, 'an argument with {list}, the list of files to copy', foundText(node))]),
  ];
}

function namesOf(tree: Tree, kind: string): string[] {
  const names = indicesAt(tree, [kind]).flatMap((index) => textAt(tree, [kind, index, 'name'])?.text ?? []);
  return [...new Set(names)];
}

function unknownName({ text, at, path }: WrittenText, kind: string, known: readonly string[]): SettingsProblem[] {
  if (known.includes(text)) return [];
  const listed = known.map(quotedShort).join(', ');
  const expected =
    known.length === 0 ? `the name of a ${kind}, and a [[${kind}]] table with it` : `a ${kind} of this file: ${listed}`;
  return [problemAt(at, path, expected, quotedShort(text), didYouMean(text, known))];
}

function repeatedWay(from: WrittenText, to: WrittenText, ways: Map<string, WrittenText>): SettingsProblem[] {
  const way = JSON.stringify([from.text, to.text]);
  const earlier = ways.get(way);
  ways.set(way, earlier ?? to);
  if (earlier === undefined) return [];
  const found = `${quotedShort(to.text)} again, as in ${keyText(earlier.path)} on line ${earlier.at.line}`;
  return [problemAt(to.at, to.path, `each shelf only once for ${quotedShort(from.text)}`, found)];
}
