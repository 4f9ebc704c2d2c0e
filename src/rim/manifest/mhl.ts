import sax from 'sax';
import { HASH_FORMATS, type HashFormat } from '../../core/backup/mhl-model.ts';
import { fromBytes } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { ManifestError } from './manifest-error.ts';

/** A value as it is written; a list of ASC MHL says with it what it is worth. */
export interface WrittenHash {
  format: HashFormat;
  text: string;
  action: string | null;
}

/** An entry as it is written; nothing of it has been checked. */
export interface WrittenFile {
  path: PathText;
  size: number | null;
  mtimeMs: number | null;
  hashes: readonly WrittenHash[];
  previousPath: PathText | null;
}

/** What a list is read for. */
export interface MhlSink {
  file(file: WrittenFile): void;
  /** A pattern of what was left out. */
  ignored?(pattern: string): void;
  /** The program that wrote it. */
  tool?(name: string): void;
}

/** Elements within one another: the formats need six; metadata may nest further. */
const DEEPEST = 64;
/** Attributes of one element: the formats need four. */
const MOST_ATTRIBUTES = 64;
const LONGEST_TEXT = 16_384;
/** Values of one file: there are six formats, and a list may repeat one. */
const MOST_HASHES = 64;

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

const HASHES = new Map<string, HashFormat>(HASH_FORMATS.map((format) => [`${ASC.file}/${format}`, format]));
/** Of the older lists the values that can be told apart (from memory); they say nothing of what each is worth: as it was when it was listed. */
const OLDER_HASHES = new Map<string, HashFormat>([
  [`${OLDER.file}/md5`, 'md5'],
  [`${OLDER.file}/sha1`, 'sha1'],
  [`${OLDER.file}/xxhash64be`, 'xxh64'],
]);
const PREVIOUS = `${ASC.file}/previousPath`;
const PATTERN = 'hashlist/processinfo/ignore/pattern';
const TOOL = 'hashlist/creatorinfo/tool';
/** Elements of ASC MHL whose text is wanted besides the path. */
const WANTED = new Set([...HASHES.keys(), PREVIOUS, PATTERN, TOOL]);

/** What has been read of an entry so far. */
interface Entry {
  path: string | null;
  size: string | null;
  time: string | null;
  hashes: WrittenHash[];
  action: string | null;
  previous: string | null;
}

/** Reads a media hash list piece by piece. `write` and `end` throw a ManifestError. */
export class MhlReader {
  readonly #parser = sax.parser(true, { xmlns: false, position: true });
  readonly #sink: MhlSink;
  readonly #open: string[] = [];
  #at = '';
  #dialect: Dialect | null = null;
  #attributes = 0;
  #text: string | null = null;
  #file = newEntry();

  constructor(sink: MhlSink) {
    this.#sink = sink;
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
    if (this.#at === file) this.#file = newEntry();
    if (this.#at === path || this.#at === size || this.#at === time) this.#text = '';
    if (this.#dialect === ASC) this.#openAsc(attributes);
    else if (OLDER_HASHES.has(this.#at)) this.#text = '';
  }

  #openAsc(attributes: Record<string, string>): void {
    if (WANTED.has(this.#at)) {
      this.#text = '';
      this.#file.action = attributes['action'] ?? null;
    } else if (this.#at === ASC.path) {
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
    else if (this.#dialect === ASC && this.#text !== null) this.#closeAsc(this.#text);
    else if (this.#text !== null) this.#takeHash(OLDER_HASHES.get(this.#at), this.#text, 'original');
    if (this.#at === file) this.#listFile();
    this.#text = null;
    this.#open.pop();
    this.#at = this.#open.join('/');
  }

  #closeAsc(text: string): void {
    const format = HASHES.get(this.#at);
    if (format !== undefined) this.#takeHash(format, text, this.#file.action);
    else if (this.#at === PREVIOUS) this.#file.previous = text;
    else if (this.#at === PATTERN) this.#sink.ignored?.(text);
    else if (this.#at === TOOL) this.#sink.tool?.(text);
  }

  #takeHash(format: HashFormat | undefined, text: string, action: string | null): void {
    if (format === undefined) return;
    if (this.#file.hashes.length >= MOST_HASHES) this.#fail('damaged', 'A file has too many hashes');
    this.#file.hashes.push({ format, text: text.trim(), action });
  }

  #take(text: string): void {
    if (this.#text === null) return;
    this.#text += text;
    if (this.#text.length > LONGEST_TEXT) this.#fail('damaged', 'A path or size in it is too long');
  }

  #listFile(): void {
    const { path, size, time, hashes, previous } = this.#file;
    if (path === null) this.#fail('damaged', 'An entry names no file');
    // Lists of the older kind are also written on systems that part names by backslashes, where no name holds one.
    const written = this.#dialect === OLDER ? path.replaceAll('\\', '/') : path;
    this.#sink.file({
      path: fromBytes(Buffer.from(written)),
      size: sizeOf(size),
      mtimeMs: timeOf(time),
      hashes,
      previousPath: previous === null ? null : fromBytes(Buffer.from(previous)),
    });
  }

  #fail(reason: ManifestError['reason'], what: string): never {
    throw new ManifestError(reason, `${what} (line ${this.#parser.line + 1}, column ${this.#parser.column + 1}).`);
  }
}

function newEntry(): Entry {
  return { path: null, size: null, time: null, hashes: [], action: null, previous: null };
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
