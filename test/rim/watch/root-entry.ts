import * as nodeFs from 'node:fs';
import { dirName } from '../../../src/core/intake/path-text.ts';
import { outOfScope } from '../../../src/core/intake/scope.ts';
import { mountOf } from '../../../src/rim/volume/mount.ts';
import { readSpace } from '../../../src/rim/volume/space.ts';
import { processChannel } from '../../../src/rim/watch/process-channel.ts';
import { decodeArguments } from '../../../src/rim/watch/protocol.ts';
import { serveRoot } from '../../../src/rim/watch/root-child.ts';

/** The process of a root as the tests start it: the real rooms, with a prober that answers with the file's own name. */
const { root, settings, scope, mountPoint, drive } = decodeArguments(process.argv[2]);

serveRoot({
  root,
  settings,
  mountPoint,
  drive,
  skip: outOfScope(scope),
  channel: processChannel(),
  probe: async (file) => ({
    ok: true,
    raw: {
      structure: null,
      tracks: [{ '@type': 'General', path: file.path }, { '@type': 'Video' }],
      readerTrouble: null,
    },
    stat: file,
  }),
  manifest: async (file) => ({
    ok: true,
    base: dirName(file.path),
    files: [{ path: 'a.mov', size: 5, mtimeMs: null }],
    gap: null,
  }),
  content: (file) => ({ ok: true, bytes: new TextEncoder().encode(file.path) }),
  mountOf: (path) => mountOf(nodeFs, path),
  space: (path) => readSpace(nodeFs, path),
});
