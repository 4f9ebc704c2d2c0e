import { createCommandPort } from '../../../src/rim/command/command-port.ts';

/** A process of its own that runs a program, to be killed: run-once.ts STATE ARGV. */
const [state = '', argv = '[]'] = process.argv.slice(2);
const never = new AbortController().signal;
await createCommandPort(state, 200).run({ name: 'tape', argv: JSON.parse(argv) }, async () => true, never);
