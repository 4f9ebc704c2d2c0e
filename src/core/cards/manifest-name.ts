import { isFootageName } from '../intake/kind.ts';
import { baseName, extension, stem } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/**
 * `.mhl`: media hash lists. The others are what md5sum, the sha*sum and b2sum of GNU coreutils and xxhsum are commonly
 * written to: common practice, no source.
 */
const EXTENSIONS = /^(?:mhl|(?:md5|sha1|sha224|sha256|sha384|sha512|b2)(?:sums?)?|xxh(?:3|32|64|128)?(?:sums?)?)$/;

/** `MD5SUMS`, `SHA256SUMS.txt`: common practice, no source. */
const NAMES = /^(?:md5|sha1|sha224|sha256|sha384|sha512|b2|xxh(?:3|32|64|128)?)sums?(?:\.txt)?$/i;

/**
 * Whether a file's name says that it is a manifest: names, and mostly checksums, of the files it came with. Not the
 * checksum of one file beside it (`A001.mov.md5`): that says nothing of what else should be there.
 */
export function isManifestName(path: PathText): boolean {
  if (NAMES.test(baseName(path))) return true;
  return EXTENSIONS.test(extension(path)) && !isFootageName(stem(path));
}
