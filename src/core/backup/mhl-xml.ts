import type { PathText } from '../model.ts';
import {
  type DateTimeText,
  type FolderHashes,
  type Generation,
  HASH_FORMATS,
  type HashFormat,
  type ListedFile,
  type ListedFolder,
  type ListReference,
} from './mhl-model.ts';
import { escapeXml, pathForList } from './mhl-text.ts';

/** Characters of one piece: writing is cheap from here on. */
const PIECE = 65_536;

/** Not in any name, and below every character that is: what lies in a folder stands before what sorts after the folder. */
const NAME_END = '\u0000';
/** After every name that can be written: a folder stands behind what lies in it. */
const FOLDER_END = `${NAME_END}\uffff`;

type Entry = { key: string; file: ListedFile } | { key: string; folder: ListedFolder };

/**
 * The manifest's text, piece by piece, in the order of elements that the schema wants.
 * @throws RangeError for a path that cannot be written: they are to be refused before (`pathForList`)
 */
export function* renderManifest(generation: Generation): Generator<string> {
  let piece = head(generation);
  const entries = ordered(generation);
  if (entries.length > 0) {
    piece += '  <hashes>\n';
    for (const entry of entries) {
      piece += 'file' in entry ? fileElement(entry.file) : folderElement(entry.folder, generation);
      if (piece.length < PIECE) continue;
      yield piece;
      piece = '';
    }
    piece += '  </hashes>\n';
  }
  yield `${piece}${references(generation.references)}</hashlist>\n`;
}

function head({ createdAt, creator, process, root, ignore, folderFormat, foldersHashedAt }: Generation): string {
  const hashes = root === null ? '' : block('roothash', 4, bothHashes(root, folderFormat, foldersHashedAt));
  const patterns = ignore.map((pattern) => `      <pattern>${escapeXml(pattern)}</pattern>\n`).join('');
  return `<?xml version="1.0" encoding="UTF-8"?>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">
  <creatorinfo>
    <creationdate>${createdAt}</creationdate>
    <hostname>${escapeXml(creator.host)}</hostname>
    <tool version="${escapeXml(creator.toolVersion)}">${escapeXml(creator.tool)}</tool>
  </creatorinfo>
  <processinfo>
    <process>${process}</process>
${hashes}${block('ignore', 4, patterns)}  </processinfo>
`;
}

function ordered({ files, folders }: Generation): Entry[] {
  const key = (path: PathText) => path.replaceAll('/', NAME_END);
  const entries: Entry[] = files.map((file) => ({ key: key(file.path), file }));
  for (const folder of folders) entries.push({ key: key(folder.path) + FOLDER_END, folder });
  return entries.sort((a, b) => (a.key < b.key ? -1 : 1));
}

function fileElement({ path, size, modifiedAt, hashes, previousPath }: ListedFile): string {
  const sized = size === null ? '' : ` size="${size}"`;
  let lines = `      <path${sized}${modified(modifiedAt)}>${written(path)}</path>\n`;
  for (const format of HASH_FORMATS) {
    for (const hash of hashes) {
      if (hash.format !== format) continue;
      const action = hash.action === null ? '' : ` action="${hash.action}"`;
      lines += `      <${format}${action}${dated(hash.hashedAt)}>${hash.value}</${format}>\n`;
    }
  }
  if (previousPath !== null) lines += `      <previousPath>${written(previousPath)}</previousPath>\n`;
  return block('hash', 4, lines);
}

function folderElement({ path, modifiedAt, hashes }: ListedFolder, generation: Generation): string {
  const { folderFormat, foldersHashedAt } = generation;
  const line = `      <path${modified(modifiedAt)}>${written(path)}</path>\n`;
  return block('directoryhash', 4, line + bothHashes(hashes, folderFormat, foldersHashedAt));
}

function bothHashes({ content, structure }: FolderHashes, format: HashFormat, at: DateTimeText): string {
  const one = (value: string) => `        <${format}${dated(at)}>${value}</${format}>\n`;
  return block('content', 6, one(content)) + block('structure', 6, one(structure));
}

function references(all: readonly ListReference[]): string {
  if (all.length === 0) return '';
  const each = all.map(({ path, c4 }) =>
    block('hashlistreference', 4, `      <path>${written(path)}</path>\n      <c4>${c4}</c4>\n`),
  );
  return block('references', 2, each.join(''));
}

function block(name: string, indent: number, lines: string): string {
  const margin = ' '.repeat(indent);
  return `${margin}<${name}>\n${lines}${margin}</${name}>\n`;
}

function modified(at: DateTimeText | null): string {
  return at === null ? '' : ` lastmodificationdate="${at}"`;
}

function dated(at: DateTimeText | null): string {
  return at === null ? '' : ` hashdate="${at}"`;
}

function written(path: PathText): string {
  const fit = pathForList(path);
  if ('unwritable' in fit) throw new RangeError(`A path cannot stand in a media hash list: ${fit.unwritable}.`);
  return escapeXml(fit.text);
}
