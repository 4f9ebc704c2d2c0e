import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { messageFor } from '../../../src/core/notify/message.ts';
import { commandChannel } from '../../../src/rim/notify/command.ts';
import { advisoryOf } from '../../fakes/advisories.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-command-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const message = messageFor(
  { channel: 'wall', event: 'worse', advisory: advisoryOf('a"; touch /tmp/never; "'), at: 1_804_183_200_000 },
  '1-1',
  'UTC',
);

/** Sends to a shell script of ours. */
function run(script: string, { args = [] as string[], wholeMs = 10_000 } = {}) {
  const program = join(folder, 'tell');
  writeFileSync(program, `#!/bin/sh\n${script}\n`);
  chmodSync(program, 0o700);
  const env = { ...process.env, HEADROOMD_SECRET: 'never-passed-on' };
  return commandChannel({ argv: [program, ...args], env, host: 'edit-1', zone: 'UTC', wholeMs }).send(message);
}

test('gets the message on its standard input, its arguments as they are, and a small environment', async () => {
  const args = ['$(id)', '{list}', 'a b'];
  expect(await run(`cat > ${folder}/in; printf '%s\\n' "$@" > ${folder}/args; env > ${folder}/env`, { args })).toEqual({
    sent: true,
  });
  const json = JSON.parse(readFileSync(join(folder, 'in'), 'utf8'));
  expect(json).toMatchObject({ id: '1-1', event: 'worse', host: 'edit-1', advisory: { severity: 'warning' } });
  expect(readFileSync(join(folder, 'args'), 'utf8')).toBe(`${args.join('\n')}\n`);
  expect(readFileSync(join(folder, 'env'), 'utf8')).not.toContain('never-passed-on');
});

// 75 is EX_TEMPFAIL of sysexits(3).
test.each([
  [1, false],
  [64, false],
  [75, true],
])('exit code %i', async (code, retry) => {
  const outcome = await run(`echo first >&2; printf 'the \\033[31mreason\\n' >&2; exit ${code}`);
  expect(outcome).toEqual({ sent: false, retry, message: `It ended with ${code}. It said: the \\x1b[31mreason` });
});

test('one that does not read, and says without end, is waited for', async () => {
  expect(await run('head -c 3000000 /dev/zero >&2; exit 0')).toEqual({ sent: true });
});

test('one that does not end is ended, with what it started', async () => {
  const outcome = await run(`trap '' TERM; (trap '' TERM; sleep 3; touch ${folder}/late) & sleep 60`, { wholeMs: 300 });
  expect(outcome).toMatchObject({
    sent: false,
    retry: true,
    message: expect.stringMatching(/had not ended after 0\.3 s/),
  });
  await new Promise((resolve) => setTimeout(resolve, 3_000));
  expect(existsSync(join(folder, 'late'))).toBe(false);
});

test('one that is not there is told', async () => {
  const none = commandChannel({ argv: [join(folder, 'none')], env: {}, host: 'edit-1', zone: 'UTC' });
  expect(await none.send(message)).toMatchObject({
    sent: false,
    retry: false,
    message: expect.stringMatching(/ENOENT/),
  });
});
