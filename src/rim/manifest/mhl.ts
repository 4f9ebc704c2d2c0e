import sax from 'sax';
import { fromBytes } from '../../core/intake/path-text.ts';
import type { ListedFiles } from './listed-files.ts';
import { ManifestError } from './manifest-error.ts';

/** Elements within one another: the formats need six; metadata may nest further. */
const DEEPEST = 64;
/** Attributes of one element: the formats need four. */
const MOST_ATTRIBUTES = 64;
const LONGEST_TEXT = 16_384;

/** Where the path, and where else the size and time of a file are given. */
interface Dialect {
  file: string;
  /** Element of the path; its text is the path. */
  path: string;
  size: string | null;
  time: string | null;
}

/** ASC MHL Specification 1.0 (2022) and its XSD: hashlist version 2.0, size and time are attributes of `path`. */
const ASC: Dialect = { file: 'hashlist/hashes/hash', path: 'hashlist/hashes/hash/path', size: null, time: null };

/** Media Hash List 1.0 and 1.1, published before: size and time are elements of their own. From memory. */
const OLDER: Dialect = {
  file: 'hashlist/hash',
  path: 'hashlist/hash/file',
  size: 'hashlist/hash/size',
  time: 'hashlist/hash/lastmodificationdate',
};

/** Reads a media hash list piece by piece. `write` and `end` throw a ManifestError. */
export class MhlReader {
  readonly #parser = sax.parser(true, { xmlns: false, position: true });
  readonly #files: ListedFiles;
  readonly #open: string[] = [];
  #at = '';
  #dialect: Dialect | null = null;
  #attributes = 0;
  #text: string | null = null;
  #file = { path: null as string | null, size: null as string | null, time: null as string | null };

  constructor(files: ListedFiles) {
    this.#files = files;
    this.#parser.onerror = (error) => this.#fail('damaged', firstLine(error.message));
    this.#parser.ondoctype = () => this.#fail('damaged', 'A document type is not allowed in a manifest');
    this.#parser.onopentagstart = () => {
      this.#attributes = 0;
    };
    this.#parser.onattribute = () => {
      this.#attributes += 1;
      if (this.#attributes > MOST_ATTRIBUTES) this.#fail('damaged', 'An element has too many attributes');
    };
    this.#parser.onopentag = ({ name, attributes }) => this.#openTag(name, attributes as Record<string, string>);
    this.#parser.onclosetag = () => this.#closeTag();
    this.#parser.ontext = (text) => this.#take(text);
    this.#parser.oncdata = (text) => this.#take(text);
  }

  write(text: string): void {
    this.#parser.write(text);
  }

  end(): void {
    this.#parser.close();
    if (this.#dialect === null) throw new ManifestError('not-a-manifest', 'There is no hash list in it.');
  }

  #openTag(qualified: string, attributes: Record<string, string>): void {
    if (this.#open.length >= DEEPEST) this.#fail('damaged', 'Its elements lie too deep in one another');
    const name = localName(qualified);
    this.#open.push(name);
    this.#at = this.#open.join('/');
    if (this.#open.length === 1) this.#dialect = this.#dialectOf(name, attributes);
    const { file, path, size, time } = this.#dialect ?? ASC;
    if (this.#at === file) this.#file = { path: null, size: null, time: null };
    if (this.#at === path || this.#at === size || this.#at === time) this.#text = '';
    if (this.#at === ASC.path) {
      this.#file.size = attributes['size'] ?? null;
      this.#file.time = attributes['lastmodificationdate'] ?? null;
    }
  }

  #dialectOf(name: string, attributes: Record<string, string>): Dialect {
    const version = attributes['version'] ?? '';
    if (name !== 'hashlist') this.#fail('not-a-manifest', 'It is XML, but no hash list');
    if (/^2\./.test(version)) return ASC;
    if (/^1\./.test(version)) return OLDER;
    return this.#fail('not-a-manifest', `It is a hash list of an unknown version "${version.slice(0, 20)}"`);
  }

  #closeTag(): void {
    const { file, path, size, time } = this.#dialect ?? ASC;
    if (this.#at === path) this.#file.path = this.#text;
    else if (this.#at === size) this.#file.size = this.#text;
    else if (this.#at === time) this.#file.time = this.#text;
    if (this.#at === file) this.#listFile();
    this.#text = null;
    this.#open.pop();
    this.#at = this.#open.join('/');
  }

  #take(text: string): void {
    if (this.#text === null) return;
    this.#text += text;
    if (this.#text.length > LONGEST_TEXT) this.#fail('damaged', 'A path or size in it is too long');
  }

  #listFile(): void {
    const { path, size, time } = this.#file;
    if (path === null) this.#fail('damaged', 'An entry names no file');
    // Lists of the older kind are also written on systems that part names by backslashes, where no name holds one.
    const written = this.#dialect === OLDER ? path.replaceAll('\\', '/') : path;
    this.#files.add(fromBytes(Buffer.from(written)), sizeOf(size), timeOf(time));
  }

  #fail(reason: ManifestError['reason'], what: string): never {
    throw new ManifestError(reason, `${what} (line ${this.#parser.line + 1}, column ${this.#parser.column + 1}).`);
  }
}

function localName(qualified: string): string {
  return qualified.slice(qualified.indexOf(':') + 1);
}

function sizeOf(text: string | null): number | null {
  const digits = text?.trim() ?? '';
  const size = /^\d+$/.test(digits) ? Number(digits) : Number.NaN;
  return Number.isSafeInteger(size) ? size : null;
}

/** An XML Schema dateTime. One without a zone says no instant. */
function timeOf(text: string | null): number | null {
  const written = text?.trim() ?? '';
  if (!/(?:Z|[+-]\d\d:\d\d)$/.test(written)) return null;
  const instant = Date.parse(written);
  return Number.isNaN(instant) ? null : instant;
}

function firstLine(message: string): string {
  const [first = ''] = message.split('\n');
  return first === 'Unclosed root tag' || first === 'Unexpected end' ? 'It ends in the middle' : first;
}
