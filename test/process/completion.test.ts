import { spawnSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { found } from './asking.ts';
import { type Bench, bench, program, until } from './headroomd.ts';
import { onTerminal, whyNoTerminal } from './on-terminal.ts';

const hasBash = spawnSync('bash', ['-c', 'mapfile -t x < <(compgen -A builtin)']).status === 0;
if (!hasBash) console.warn('NOT CHECKED: completion in bash: there is no bash (4 or newer).');
for (const shell of ['zsh', 'fish']) {
  const there = spawnSync(shell, ['-c', 'true']).status === 0;
  console.warn(`NOT CHECKED: completion in ${shell}: ${there ? 'no test runs it yet' : 'it is not installed'}.`);
}

let place: Bench;
beforeAll(async () => {
  place = bench();
  for (const name of ['Tidewater Sessions', 'Lock Keepers']) {
    mkdirSync(join(place.volume, name), { recursive: true });
    writeFileSync(join(place.volume, name, 'notes.txt'), 'second set');
  }
  mkdirSync(join(place.folder, 'a folder'));
  const daemon = await place.start();
  await until('the projects are known', () => daemon.status().projects.length === 2);
});
afterAll(() => place.clear());

/** What bash offers behind these words, as its function is called when Tab is pressed. */
function offered(...words: string[]): string[] {
  const script = `
    source <("$0" completion bash)
    COMP_WORDS=("$0" "$@") COMP_CWORD=$#
    _headroomd
    printf '%s\\n' "\${COMPREPLY[@]}"`;
  const done = spawnSync('bash', ['--norc', '-c', script, program, ...words], { encoding: 'utf8' });
  expect(done.stderr).toBe('');
  return done.stdout.split('\n').filter((line) => line !== '');
}

test.skipIf(!hasBash)('bash completes verbs, options, names of the daemon, folders', () => {
  expect(offered('sta')).toEqual(['status']);
  expect(offered('backup', 're')).toEqual(['restore-list']);
  expect(offered('status', '--w')).toEqual(['--watch']);
  expect(offered('measure', '--state', place.state, '')).toEqual(['stripe']);
  expect(offered('clips', '--state', place.state, '--project', 'T')).toEqual(['Tidewater\\ Sessions']);
  expect(offered('clips', '--state', place.state, '--project', '"Lock K')).toEqual(['Lock Keepers']);
  expect(offered('run', join(place.folder, 'a'))).toEqual([join(place.folder, 'a folder')]);
  expect(offered('completion', '')).toEqual(['bash', 'zsh', 'fish']);
});

const why = hasBash ? whyNoTerminal() : 'there is no bash';
if (why !== null) console.warn(`NOT CHECKED: Tab in a bash on a terminal: ${why}`);

test.skipIf(why !== null)('Tab in a bash on a terminal writes the name, quoted as a shell needs it', async () => {
  const shell = onTerminal(['bash', '--norc', '--noprofile'], { columns: 200, rows: 24 }, { PS1: '> ' });
  try {
    shell.type(`source <('${program}' completion bash); echo ready-$((1 + 1))\n`);
    await found('the script is read', async () => (shell.written().includes('ready-2') ? true : null));
    shell.type(`${program} clips --state '${place.state}' --project Ti\t`);
    await found('the name', async () => (shell.written().includes('--project Tidewater\\ Sessions') ? true : null));
  } finally {
    shell.clear();
  }
});
