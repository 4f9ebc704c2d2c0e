import { normalSum, type SumFormat, type Sums } from '../../core/backup/sums.ts';
import { fromBytes } from '../../core/intake/path-text.ts';
import type { ListedFiles } from './listed-files.ts';
import { ManifestError } from './manifest-error.ts';

/** A path of 4096 bytes, each written as two, with the longest checksum before it. */
const LONGEST_LINE = 16_384;
const NEWLINE = 0x0a;

/**
 * The forms of GNU coreutils (manual, "md5sum invocation": a backslash before the line says that the name has escapes;
 * `--tag`), and of those what `--check` takes besides: one space, `SHA256(name)= ...`. Bytes are read as Latin-1.
 */
const PLAIN = /^(\\?)((?:[A-Z0-9]+_)?)([0-9a-f]{8,128})(?: [ *]| )([^ *].*|[ *].+)$/is;
const TAGGED = /^(\\?)([A-Za-z][A-Za-z0-9/-]{1,15}) ?\((.+)\) ?= ?([0-9a-f]{8,128})$/s;

/** Reads a list of checksums piece by piece. `write` and `end` throw a ManifestError. */
export class ChecksumListReader {
  readonly #files: ListedFiles;
  readonly #algorithm: string;
  #rest: Buffer = Buffer.alloc(0);
  #lines = 0;
  #listed = 0;
  #odd = 0;

  /** `name`: the list's own, which says what its values are where the lines do not. */
  constructor(files: ListedFiles, name: string) {
    this.#files = files;
    this.#algorithm = algorithmIn(name);
  }

  write(bytes: Buffer): void {
    let text = this.#rest.length === 0 ? bytes : Buffer.concat([this.#rest, bytes]);
    for (let end = text.indexOf(NEWLINE); end >= 0; end = text.indexOf(NEWLINE)) {
      this.#line(text.subarray(0, end));
      text = text.subarray(end + 1);
    }
    if (text.length > LONGEST_LINE) throw new ManifestError('not-a-manifest', this.#where('is longer than any path'));
    this.#rest = Buffer.from(text);
  }

  end(): void {
    if (this.#rest.length > 0) {
      this.#line(this.#rest);
      this.#files.note('its last line has no end: it may be cut');
    }
    if (this.#listed === 0) throw new ManifestError('not-a-manifest', 'No line of it is a checksum with a name.');
    if (this.#odd > 0) this.#files.note(`${this.#odd} of its ${this.#lines} lines could not be read`);
  }

  #line(bytes: Buffer): void {
    this.#lines += 1;
    if (bytes.includes(0)) throw new ManifestError('not-a-manifest', this.#where('is no text'));
    const line = this.#lines === 1 ? withoutMark(bytes).toString('latin1') : bytes.toString('latin1');
    // A carriage return in a name is written as an escape; one at the end is how other systems end a line.
    const plain = line.endsWith('\r') ? line.slice(0, -1) : line;
    if (plain === '' || plain.startsWith('#')) return;
    const written = partsOf(plain);
    if (written === null) this.#odd += 1;
    else {
      this.#listed += 1;
      const sums = sumsIn(written.algorithm ?? this.#algorithm, written.value);
      this.#files.add(fromBytes(Buffer.from(written.name, 'latin1')), null, null, sums);
    }
    if (this.#odd > 100 && this.#odd > this.#listed) {
      throw new ManifestError('not-a-manifest', 'Most of its lines are no checksums with names.');
    }
  }

  #where(what: string): string {
    return `Line ${this.#lines + 1} ${what}.`;
  }
}

interface Written {
  name: string;
  value: string;
  /** As the line tells it; `null`: it does not. */
  algorithm: string | null;
}

function partsOf(line: string): Written | null {
  const tagged = TAGGED.exec(line);
  if (tagged !== null) {
    const name = meantName(tagged[3] ?? '', tagged[1] === '\\');
    return name === null ? null : { name, value: tagged[4] ?? '', algorithm: tagged[2] ?? null };
  }
  const plain = PLAIN.exec(line);
  if (plain === null || (plain[3] ?? '').length % 2 !== 0) return null;
  const name = meantName(plain[4] ?? '', plain[1] === '\\');
  const prefix = (plain[2] ?? '').slice(0, -1);
  return name === null ? null : { name, value: plain[3] ?? '', algorithm: prefix === '' ? null : prefix };
}

/** `day3.sha256`, `MD5SUMS`, `SHA256SUMS.txt`: names as `isManifestName` knows them. */
function algorithmIn(name: string): string {
  return /(md5|sha1|sha224|sha256|sha384|sha512|b2|xxh(?:3|32|64|128)?)(?:sums?)?(?:\.txt)?$/i.exec(name)?.[1] ?? '';
}

/** As the lines of `--tag` have them, beside the names of the formats. */
const ALGORITHMS: Readonly<Record<string, SumFormat>> = {
  ...{ md5: 'md5', sha1: 'sha1', sha224: 'sha224', sha256: 'sha256', sha384: 'sha384', sha512: 'sha512' },
  ...{ b2: 'b2', blake2b: 'b2', xxh3: 'xxh3', xxh32: 'xxh32', xxh64: 'xxh64', xxh128: 'xxh128' },
};
/** xxhsum(1) tells its formats apart by their length, but for XXH3, which it marks in each line. */
const OF_XXH: Readonly<Record<number, SumFormat>> = { 8: 'xxh32', 16: 'xxh64', 32: 'xxh128' };

/** Nothing where it cannot be said what the value is of. */
function sumsIn(algorithm: string, value: string): Sums {
  const known = algorithm.toLowerCase();
  const format = known === 'xxh' ? OF_XXH[value.length] : ALGORITHMS[known];
  const normal = format === undefined ? null : normalSum(format, value);
  return format === undefined || normal === null ? {} : { [format]: normal };
}

/** `null` when an escape is none that there is. */
function meantName(name: string, escaped: boolean): string | null {
  if (!escaped) return name;
  const meant: Record<string, string> = { '\\\\': '\\', '\\n': '\n', '\\r': '\r' };
  let isKnown = true;
  const text = name.replace(/\\[\s\S]?/g, (pair) => {
    const one = meant[pair];
    if (one === undefined) isKnown = false;
    return one ?? '';
  });
  return isKnown ? text : null;
}

/** Without the byte order mark that some editors set before UTF-8. */
function withoutMark(bytes: Buffer): Buffer {
  return bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? bytes.subarray(3) : bytes;
}
