import * as nodeFs from 'node:fs';
import { decodeMount } from '../../../src/rim/card/protocol.ts';
import { serveCard } from '../../../src/rim/card/serve-card.ts';

/** The process of a card in a slow reader: a tenth of a second for each folder of the list. With `hang` for a mount point it says nothing. */
const mount = decodeMount(process.argv[2]);
const cell = new Int32Array(new SharedArrayBuffer(4));
let recognised = false;
const opendirSync: typeof nodeFs.opendirSync = (...given) => {
  if (recognised) Atomics.wait(cell, 0, 0, 100);
  return nodeFs.opendirSync(...given);
};

process.on('disconnect', () => process.exit(0));
if (mount.mountPoint === 'hang') Atomics.wait(cell, 0, 0, 60_000);
await serveCard(mount, { ...nodeFs, opendirSync }, (message) => {
  recognised ||= message.type === 'recognised';
  process.send?.(message, undefined, undefined, () => {
    if (message.type === 'end') process.exit(0);
  });
});
