import type { FromCopy, ToCopy } from './protocol.ts';
import { CopyServer } from './serve-copy.ts';

/** Entry of the process of one job. A drive that hangs takes this process along and nothing else. */

/** With the parent gone what is under way is tidied up, if that can be done soon. */
const TIDY_MS = 5_000;

let sent: Promise<void> = Promise.resolve();

const server = new CopyServer((message) => {
  sent = new Promise((resolve) => {
    if (process.connected) process.send?.(message, undefined, undefined, () => resolve());
    else resolve();
  });
});

function stopSoon(): void {
  server.take({ type: 'stop' });
  setTimeout(() => process.exit(1), TIDY_MS).unref();
}

process.on('message', (message) => server.take(message as ToCopy));
process.on('disconnect', stopSoon);
process.on('SIGTERM', stopSoon);
// A terminal's Ctrl-C reaches the whole process group; ending is the daemon's to order.
process.on('SIGINT', () => {});

process.send?.({ type: 'ready' } satisfies FromCopy);

await server.ended;
// Messages go in order: with the last one all are out.
await sent;
process.exit(0);
