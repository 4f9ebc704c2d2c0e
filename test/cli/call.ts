import { tmpdir } from 'node:os';
import type { Command } from 'commander';
import type { CliIo } from '../../src/cli/io.ts';
import { buildProgram, runCli } from '../../src/cli/program.ts';

function textIo(): { io: CliIo; said: { out: string; err: string } } {
  const said = { out: '', err: '' };
  const io: CliIo = {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    terminal: false,
    redraws: false,
    tellsProgress: false,
    colour: false,
    columns: 80,
    rows: null,
    env: {},
    cwd: tmpdir(),
    zone: 'Europe/Rome',
  };
  return { io, said };
}

/** The command line in this process, as it is called in a pipe. */
export async function call(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const { io, said } = textIo();
  const code = await runCli(args, io);
  return { code, ...said };
}

/** Every verb that help lists: `backup now` too, and not `backup`. */
export function everyVerb(): string[] {
  return verbsBelow(buildProgram(textIo().io, () => {})).map(([name]) => name);
}

/** The verb that arguments call, without its being done. Throws commander's error where they cannot be used. */
export async function parsed(args: readonly string[]): Promise<string | null> {
  const program = buildProgram(textIo().io, () => {});
  let called: string | null = null;
  for (const [name, command] of verbsBelow(program)) {
    command.action(() => {
      called = name;
    });
  }
  await program.parseAsync([...args], { from: 'user' });
  return called;
}

function verbsBelow(command: Command): [string, Command][] {
  const visible = command
    .createHelp()
    .visibleCommands(command)
    .filter((one) => one.name() !== 'help');
  return visible.flatMap((one): [string, Command][] =>
    one.commands.length === 0
      ? [[one.name(), one]]
      : verbsBelow(one).map(([name, below]): [string, Command] => [`${one.name()} ${name}`, below]),
  );
}
