import { runCli } from './cli/program.ts';

const code = await runCli(process.argv.slice(2), {
  out: (text) => process.stdout.write(text),
  err: (text) => process.stderr.write(text),
  terminal: process.stdout.isTTY === true,
  colour: process.stdout.isTTY === true && process.env['NO_COLOR'] === undefined,
  columns: process.stdout.columns ?? 80,
  rows: process.stdout.rows ?? null,
  env: process.env,
  cwd: process.cwd(),
  zone: Temporal.Now.timeZoneId(),
});

process.exitCode = code;
// Calls that hang on a dead mount must not keep an ended program alive.
setTimeout(() => process.exit(code), 500).unref();
