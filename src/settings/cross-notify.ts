import { indicesAt, textAt, textsAt, type WrittenText } from './look.ts';
import { isLoopback } from './notify.ts';
import { locate, type Table, type Tree } from './position.ts';
import { keyText, problemAt } from './problem.ts';
import { NOTIFY_KINDS } from './schema-notify.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort, visible } from './show.ts';

type Kind = (typeof NOTIFY_KINDS)[number];

/** What belongs to each kind beside what belongs to all, and which of it there must be, with what is expected then. */
const KEYS: Record<Kind, { own: readonly string[]; needed: Readonly<Record<string, string>> }> = {
  webhook: {
    own: ['url', 'secret_file', 'ca_file', 'private'],
    needed: { url: 'an address like "https://told.example.org/headroomd"' },
  },
  command: { own: ['command'], needed: { command: 'a program and its arguments, like ["/usr/local/bin/tell-all"]' } },
  mail: {
    own: ['host', 'port', 'security', 'from', 'to', 'user', 'password_file', 'ca_file', 'report'],
    needed: {
      host: 'the name of a machine, like "mail.example.org"',
      from: 'a mail address like "edit@example.org"',
      to: 'a list of mail addresses, like ["edit@example.org"]',
    },
  },
  desktop: { own: [], needed: {} },
};

const OWNED = new Set(Object.values(KEYS).flatMap(({ own }) => own));

/** Channels: each name once, what belongs to its kind and nothing else, and no way on which others could read along. */
export function notifyProblems(tree: Tree): SettingsProblem[] {
  const indices = indicesAt(tree, ['notify']);
  return [...indices.flatMap((index) => kindProblems(tree, index)), ...nameProblems(tree, indices)];
}

function kindProblems(tree: Tree, index: number): SettingsProblem[] {
  const { node } = locate(tree, ['notify', index]);
  const kind = NOTIFY_KINDS.find((one) => one === textAt(tree, ['notify', index, 'kind'])?.text);
  if (node.kind !== 'table' || kind === undefined) return [];
  return [
    ...strangeKeys(node, index, kind),
    ...Object.entries(KEYS[kind].needed).flatMap(([key, expected]) =>
      node.entries.has(key) ? [] : [problemAt(node.at, ['notify', index, key], expected, 'nothing')],
    ),
    ...(kind === 'webhook' ? urlProblems(textAt(tree, ['notify', index, 'url'])) : []),
    ...(kind === 'command' ? programProblems(textsAt(tree, ['notify', index, 'command'])) : []),
    ...(kind === 'mail' ? mailProblems(tree, node, index) : []),
  ];
}

function strangeKeys({ entries }: Table, index: number, kind: Kind): SettingsProblem[] {
  return [...entries].flatMap(([key, entry]) => {
    if (!OWNED.has(key) || KEYS[kind].own.includes(key)) return [];
    const homes = NOTIFY_KINDS.filter((one) => KEYS[one].own.includes(key)).map((one) => `"${one}"`);
    const expected = `nothing: it belongs to kind = ${homes.join(' or ')}`;
    // What is meant for another kind may hold a secret: it is not repeated.
    return [problemAt(entry.keyAt ?? entry.at, ['notify', index, key], expected, `it beside kind = "${kind}"`)];
  });
}

/** An address may hold a secret, so of it only the way and the machine are repeated. */
function urlProblems(written: WrittenText | null): SettingsProblem[] {
  if (written === null) return [];
  const { text, at, path } = written;
  const expected = 'an address like "https://told.example.org/headroomd"';
  const problem = (found: string, hint: string | null = null) => [problemAt(at, path, expected, found, hint)];
  if (!URL.canParse(text)) return problem('what is no address');
  const url = new URL(text);
  const where = visible(`${url.protocol}//${url.host}/...`).slice(0, 100);
  if (url.username !== '' || url.password !== '')
    return problem('an address with a name or password in it', 'sign with secret_file instead');
  if (url.hash !== '') return problem(`${where} with "#"`, 'what comes behind # is never sent');
  if (url.protocol === 'https:') return [];
  if (url.protocol !== 'http:') return problem(where);
  return isLoopback(url.hostname) ? [] : problem(where, 'without TLS only to this machine itself');
}

function programProblems([program]: WrittenText[]): SettingsProblem[] {
  if (program === undefined || program.text.startsWith('/')) return [];
  return [problemAt(program.at, program.path, 'the whole path of a program, from the root', quotedShort(program.text))];
}

function mailProblems(tree: Tree, node: Table, index: number): SettingsProblem[] {
  const at = (key: string) => ['notify', index, key];
  const security = textAt(tree, at('security'));
  const host = textAt(tree, at('host'));
  const [user, password] = [node.entries.get('user'), node.entries.get('password_file')];
  const isOpen = security?.text === 'none' && host !== null && !isLoopback(host.text);
  return [
    ...(isOpen && security !== null
      ? [
          problemAt(
            security.at,
            security.path,
            '"tls" or "starttls"',
            '"none"',
            'without TLS only to this machine itself',
          ),
        ]
      : []),
    ...(user !== undefined && password === undefined
      ? [problemAt(user.at, at('password_file'), 'the file with the password, beside user', 'nothing')]
      : []),
    ...(user === undefined && password !== undefined
      ? [problemAt(password.at, at('user'), 'the name to sign in with, beside password_file', 'nothing')]
      : []),
  ];
}

/** One without a name is called by its kind. */
function nameProblems(tree: Tree, indices: readonly number[]): SettingsProblem[] {
  const seen = new Map<string, WrittenText>();
  return indices.flatMap((index) => {
    const called = textAt(tree, ['notify', index, 'name']) ?? textAt(tree, ['notify', index, 'kind']);
    if (called === null) return [];
    const earlier = seen.get(called.text);
    seen.set(called.text, earlier ?? called);
    if (earlier === undefined) return [];
    const found = `${quotedShort(called.text)}, which is ${keyText(earlier.path)} on line ${earlier.at.line}`;
    const hint = called.path.at(-1) === 'kind' ? 'give it a name: name = "..."' : null;
    return [problemAt(called.at, called.path, 'a name that no other [[notify]] has', found, hint)];
  });
}
