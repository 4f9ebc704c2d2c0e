import { processIo } from './cli/io.ts';
import { runCli } from './cli/program.ts';

// Whoever reads has gone (`| head`): that ends a verb as a signal to end does, and is no defect.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
  process.kill(process.pid, 'SIGTERM');
});

const code = await runCli(process.argv.slice(2), processIo(process, process.cwd(), Temporal.Now.timeZoneId()));

process.exitCode = code;
// Calls that hang on a dead mount must not keep an ended program alive.
setTimeout(() => process.exit(code), 500).unref();
