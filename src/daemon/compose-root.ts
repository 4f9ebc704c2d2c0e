import * as nodeFs from 'node:fs';
import { MOST_LIST_BYTES } from '../core/intake/card-list.ts';
import { outOfScope } from '../core/intake/scope.ts';
import { toAbsolute } from '../rim/base/byte-path.ts';
import { readSmallFile } from '../rim/base/small-file.ts';
import { readManifest } from '../rim/manifest/read-manifest.ts';
import { createProber } from '../rim/probe/pool.ts';
import { mountFinder } from '../rim/volume/mount.ts';
import { readSpace } from '../rim/volume/space.ts';
import { processChannel } from '../rim/watch/process-channel.ts';
import { decodeArguments } from '../rim/watch/protocol.ts';
import { serveRoot } from '../rim/watch/root-child.ts';

/**
 * Entry of a root's own process. All path I/O on the root happens here, the probe's reads too; the probe library runs in
 * a thread of this process, with its watchdog outside that thread.
 */
const given = decodeArguments(process.argv[2]);
const mountOf = mountFinder(nodeFs);
const prober = createProber({ now: () => performance.now() });

serveRoot({
  ...given,
  skip: outOfScope(given.scope),
  channel: processChannel(),
  probe: (file, base) => prober.probe(toAbsolute(base, file.path), file),
  manifest: (file, base) => readManifest(toAbsolute(base, file.path), file),
  content: (file, base) => readSmallFile(toAbsolute(base, file.path), MOST_LIST_BYTES),
  mountOf,
  space: (path) => readSpace(nodeFs, path, mountOf(path)),
});
