import * as nodeFs from 'node:fs';
import { decodeMount } from '../rim/card/protocol.ts';
import { serveCard } from '../rim/card/serve-card.ts';

/**
 * Entry of the process that looks at one mounted card, once. A reader that hangs takes this process along and nothing
 * else.
 */
const mount = decodeMount(process.argv[2]);

// When the daemon is gone nobody is left to tell; and a terminal's Ctrl-C reaches the whole group, ending is its to order.
process.on('disconnect', () => process.exit(0));
process.on('SIGINT', () => {});

let sent: Promise<void> = Promise.resolve();

await serveCard(mount, nodeFs, (message) => {
  sent = new Promise((resolve) => {
    if (process.connected) process.send?.(message, undefined, undefined, () => resolve());
    else resolve();
  });
});
// Messages go in order: with the last one all are out.
await sent;
process.exit(0);
