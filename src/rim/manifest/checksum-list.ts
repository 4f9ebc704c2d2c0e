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
const PLAIN = /^(\\?)(?:[A-Z0-9]+_)?([0-9a-f]{8,128})(?: [ *]| )([^ *].*|[ *].+)$/is;
const TAGGED = /^(\\?)[A-Za-z][A-Za-z0-9/-]{1,15} ?\((.+)\) ?= ?([0-9a-f]{8,128})$/s;

/** Reads a list of checksums piece by piece. `write` and `end` throw a ManifestError. */
export class ChecksumListReader {
  readonly #files: ListedFiles;
  #rest: Buffer = Buffer.alloc(0);
  #lines = 0;
  #listed = 0;
  #odd = 0;

  constructor(files: ListedFiles) {
    this.#files = files;
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
    const name = nameOf(plain);
    if (name === null) this.#odd += 1;
    else {
      this.#listed += 1;
      this.#files.add(fromBytes(Buffer.from(name, 'latin1')), null, null);
    }
    if (this.#odd > 100 && this.#odd > this.#listed) {
      throw new ManifestError('not-a-manifest', 'Most of its lines are no checksums with names.');
    }
  }

  #where(what: string): string {
    return `Line ${this.#lines + 1} ${what}.`;
  }
}

function nameOf(line: string): string | null {
  const tagged = TAGGED.exec(line);
  if (tagged !== null) return meantName(tagged[2] ?? '', tagged[1] === '\\');
  const plain = PLAIN.exec(line);
  if (plain === null || (plain[2] ?? '').length % 2 !== 0) return null;
  return meantName(plain[3] ?? '', plain[1] === '\\');
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
