import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { exitCodes } from '../../src/cli/exit-codes.ts';
import { stateDirFrom } from '../../src/cli/state-dir.ts';
import { call, everyVerb, parsed } from './call.ts';

const verbs = [
  'run',
  'status',
  'clips',
  'plan',
  'measure',
  'sweep',
  'card',
  'snooze',
  'backup',
  'check',
  'demo',
  'completion',
];

/** As a shell takes a line apart. */
function shellWords(line: string): string[] {
  const done = execFileSync('bash', ['-c', `set -- ${line}; printf '%s\\0' "$@"`], { encoding: 'utf8' });
  return done.split('\0').slice(0, -1);
}

describe('the command line', () => {
  test('--help lists every verb and every exit code, and ends well', async () => {
    const { code, out } = await call('--help');
    expect(code).toBe(exitCodes.ok);
    for (const verb of verbs) expect(out).toMatch(new RegExp(`^ {2}${verb} `, 'm'));
    for (const number of Object.values(exitCodes)) expect(out).toMatch(new RegExp(`^ {2}${number} {2}`, 'm'));
  });

  test.each(everyVerb())('%s --help has an example that can be typed as it is, and fits 80 columns', async (verb) => {
    const { code, out } = await call(...verb.split(' '), '--help');
    expect(code).toBe(exitCodes.ok);
    const example = /\nExample:\n {2}(.*)\n/.exec(out)?.[1] ?? '';
    const [name, ...args] = shellWords(example.replace(/^source <\((.*)\)$/, '$1'));
    expect(name).toBe('headroomd');
    expect(args.join(' ')).toMatch(new RegExp(`^${verb}`));
    expect(await parsed(args)).toBe(verb);
    for (const line of out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(80);
  });

  test('the README has a row for each verb', () => {
    const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
    for (const verb of everyVerb()) expect(readme).toMatch(new RegExp(`^\\| \`${verb}[ \`]`, 'm'));
  });

  test('--help itself fits 80 columns', async () => {
    for (const line of (await call('--help')).out.split('\n')) expect(line.length, line).toBeLessThanOrEqual(80);
  });

  test.each([
    [['sta'], ['status']],
    [['backup', 'v'], ['verify']],
    [
      ['backup', 'now', '--'],
      ['--state', '--adopt', '--wait', '--json', '--help'],
    ],
    [['--v'], ['--version']],
    [
      ['completion', ''],
      ['bash', 'zsh', 'fish'],
    ],
    [['status', ''], []],
    [['check', '--config', ''], [':files']],
    [['run', '/media/stripe', ''], [':folders']],
    [['run', '--port', ''], []],
    [['measure', 'stripe', ''], []],
    [['measure', '--state', join(tmpdir(), 'headroomd-nowhere'), ''], []],
    [['com'], ['completion']],
  ])('behind %j Tab offers %j', async (words, offered) => {
    const { code, out, err } = await call('complete', '--', ...words);
    expect({ code, err, offered: out.split('\n').slice(0, -1) }).toEqual({ code: 0, err: '', offered });
  });

  test('--version is that of the package', async () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8'));
    expect((await call('--version')).out).toBe(`${version}\n`);
  });

  test.each([
    [['stats']],
    [['status', '--yaml']],
    [['run', '/media/stripe', '--port', '70000']],
    [['run', '/media/stripe', '--port', '-1']],
    [['check']],
    [['status', 'extra']],
    [['snooze', 't68js', '--for', '0h']],
    [['snooze', 't68js', '--for', '4 hours']],
    [['snooze', 't68js', '--for', '4h', '--until', '18:00']],
    [['snooze', 't68js', '--known', '--for', '4h']],
    [['snooze', 't68js', '--lift', '--reason', 'x']],
  ])('%j cannot be used: one line says why, and how to get help', async (args) => {
    const { code, err } = await call(...args);
    expect(code).toBe(exitCodes.usage);
    expect(err).toMatch(/^headroomd: .*/);
    expect(err).toContain('--help');
    expect(err).not.toMatch(/ {4}at /);
  });

  test.each([
    [['snooze', '--for', '4h'], /name the advisory: headroomd snooze ID/],
    [['snooze', '--lift'], /name the advisory/],
    [['snooze', 't68js'], /say for how long: --for 4h, /],
    [['snooze', 't68js', '--reason', 'x'], /say for how long/],
    [['snooze', 't68js', '--known'], /say why it is known/],
    [['snooze', 't68js', '--known', '--reason', ' '], /say why it is known/],
    [['snooze', 't68js', '--until', 'never'], /--until never is no time: a time is like "18:00"/],
    [['snooze', 't68js', '--until', '2027-02-30'], /is no time \(there is no such day or hour\)/],
  ])('%j lacks something: one line says what', async (args, why) => {
    const { code, err } = await call(...args, '--state', join(tmpdir(), 'headroomd-nowhere'));
    expect(code).toBe(exitCodes.usage);
    expect(err).toMatch(why);
  });

  test.each([[['snooze']], [['snooze', 't68js', '--for', '4h']], [['snooze', 't68js', '--lift']]])(
    '%j without a daemon says how to start one',
    async (args) => {
      const { code, err } = await call(...args, '--state', join(tmpdir(), 'headroomd-nowhere'));
      expect(code).toBe(exitCodes.noDaemon);
      expect(err).toMatch(/no daemon runs on/);
    },
  );

  test('an unknown verb is met with the nearest one', async () => {
    expect((await call('stauts')).err).toMatch(/unknown command 'stauts'[\s\S]*Did you mean status\?/);
  });

  test('without a verb it shows what there is', async () => {
    const { code, out, err } = await call();
    expect(code).toBe(exitCodes.usage);
    expect(out + err).toMatch(/run/);
  });

  test('clips without a daemon says how to start one', async () => {
    const { code, err } = await call('clips', '--state', join(tmpdir(), 'headroomd-nowhere'));
    expect(code).toBe(exitCodes.noDaemon);
    expect(err).toMatch(/no daemon runs on .*headroomd-nowhere: start one with 'headroomd run FOLDER --state .*'/);
  });
});

describe('the state folder', () => {
  test('is what --state says, else as the XDG Base Directory Specification has it', () => {
    expect(stateDirFrom('here', { env: {}, cwd: '/home/editor' })).toBe('/home/editor/here');
    expect(stateDirFrom(undefined, { env: { XDG_STATE_HOME: '/var/state' }, cwd: '/' })).toBe('/var/state/headroomd');
    // A relative path in the variable is to be ignored (the specification, "all paths must be absolute").
    expect(stateDirFrom(undefined, { env: { XDG_STATE_HOME: 'state' }, cwd: '/' })).toMatch(
      /\/\.local\/state\/headroomd$/,
    );
  });
});
