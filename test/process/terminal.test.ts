import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, program } from './headroomd.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
  mkdirSync(place.volume);
});
afterEach(() => place.clear());

/** Starts a program on a terminal of its own, closes that once the program has said something, and tells how it ended. */
const TERMINAL = `
import os, pty, signal, sys
child, terminal = pty.fork()
if child == 0:
    os.execv(sys.argv[2], sys.argv[2:])
signal.alarm(60)
said = b""
while sys.argv[1].encode() not in said:
    said += os.read(terminal, 4096)
os.close(terminal)
print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
`;

test('a daemon whose terminal is closed ends in order, and does not live on unseen', async () => {
  const args = ['-c', TERMINAL, 'To look:', program, 'run', '--state', place.state, '--port', '0', place.volume];
  const terminal = spawn('/usr/bin/python3', args, { stdio: ['ignore', 'pipe', 'inherit'] });
  let ended = '';
  terminal.stdout.on('data', (chunk: Buffer) => {
    ended += chunk.toString();
  });
  await new Promise((resolve) => terminal.once('exit', resolve));
  expect(ended).toBe('0\n');
  // It is there as long as a daemon holds the state, and after one that was ended by force.
  expect(existsSync(join(place.state, 'lock.pid'))).toBe(false);
  expect(spawnSync(program, ['status', '--state', place.state]).status).toBe(3);
});
