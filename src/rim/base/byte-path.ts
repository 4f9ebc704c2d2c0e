import { fromBytes, hasEscapes, toUtf8 } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';

/**
 * The path to hand to a system call. A string wherever text says it all (every call takes one, and errors read well);
 * a Buffer of the exact bytes when the name holds bytes that are no UTF-8. `root` is an absolute path in plain text.
 */
export function toAbsolute(root: string, path: PathText): string | Buffer {
  const base = root.endsWith('/') ? root : `${root}/`;
  if (path === '') return root;
  return hasEscapes(path) ? Buffer.concat([Buffer.from(base), toUtf8(path)]) : base + path;
}

/** The name of a directory entry that was read with `encoding: 'buffer'`. */
export function fromDirent(name: Buffer): PathText {
  return fromBytes(name);
}
