import type { FromCommand, ToCommand } from './protocol.ts';
import { Watcher } from './watcher.ts';

/** Entry of the process that watches one program. It outlives a daemon that is killed by as long as it takes to end that program. */

let sent: Promise<void> = Promise.resolve();

const watcher = new Watcher((message: FromCommand) => {
  sent = new Promise((resolve) => {
    if (process.connected) process.send?.(message, undefined, undefined, () => resolve());
    else resolve();
  });
  if (message.type === 'exit') void sent.then(() => process.exit(0));
});

async function endAndExit(): Promise<void> {
  await watcher.end('ended');
  process.exit(1);
}

process.on('message', (message) => void watcher.take(message as ToCommand));
process.on('disconnect', () => void endAndExit());
process.on('SIGTERM', () => void endAndExit());
// A terminal's Ctrl-C reaches the whole process group; ending is the daemon's to order.
process.on('SIGINT', () => {});
