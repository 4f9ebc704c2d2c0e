/** What a reader of tags found. */
export interface Tags {
  /** Text of the elements asked for, by path from the root; of several with one path the first. Never empty. */
  values: ReadonlyMap<string, string>;
  /** Why not all of it could be read, in words. */
  trouble: string | null;
}

const MAX_TAGS = 20_000;
const MAX_DEPTH = 16;
/** Longer than any name or value of a recorder's notes. */
const MAX_TAG = 1024;
const MAX_VALUE = 256;

/** An element's name, then its attributes, which are not looked at. */
const TAG = /^(\/?)([A-Za-z_][\w.:-]{0,63})(?:\s[\s\S]*?)?(\/?)$/;
const ENTITIES: Readonly<Record<string, string>> = { lt: '<', gt: '>', amp: '&', quot: '"', apos: "'" };

/**
 * Reads the elements with these paths (`BWFXML/SPEED/NOTE`) from XML of unknown origin: elements, comments, processing
 * instructions, CDATA and the five entities of XML 1.0 itself. A document type, and so any other entity, is refused.
 * One pass over the text. What was read before a fault is kept; nothing is thrown.
 */
export function readTags(xml: string, wanted: ReadonlySet<string>): Tags {
  const values = new Map<string, string>();
  const done = new Set<string>();
  const open: string[] = [];
  const tell = (trouble: string | null): Tags => ({ values: tidy(values), trouble });
  const keep = (text: string) => {
    const path = open.at(-1) ?? '';
    const before = values.get(path) ?? '';
    if (wanted.has(path) && !done.has(path) && before.length < MAX_VALUE) values.set(path, before + text);
  };
  let at = 0;
  for (let count = 0; count < MAX_TAGS; count += 1) {
    const start = xml.indexOf('<', at);
    if (start === -1)
      return tell(open.length > 0 ? 'it ends in mid-element' : done.size > 0 ? null : 'it has no elements');
    keep(decoded(xml.slice(at, Math.min(start, at + MAX_TAG))));
    const part = nextPart(xml, start);
    if (part === null) return tell('a tag is damaged or cut off');
    at = part.end;
    if (part.kind === 'text') keep(part.text);
    if (part.kind === 'open') open.push(open.length === 0 ? part.text : `${open.at(-1)}/${part.text}`);
    if (open.length > MAX_DEPTH) return tell('its elements are nested too deep');
    if (part.kind !== 'close') continue;
    const path = open.pop() ?? '';
    if (path !== part.text && !path.endsWith(`/${part.text}`)) return tell('its elements are not nested');
    done.add(path);
  }
  return tell('it has more elements than are looked at');
}

interface Part {
  kind: 'open' | 'close' | 'text' | 'none';
  /** Name of the element, or the text. */
  text: string;
  /** Where what follows begins. */
  end: number;
}

/** The tag or other mark that begins at `start`; `null`: none, or without an end. */
function nextPart(xml: string, start: number): Part | null {
  if (xml.startsWith('<!--', start)) return until(xml, start + 4, '-->', 'none');
  if (xml.startsWith('<?', start)) return until(xml, start + 2, '?>', 'none');
  if (xml.startsWith('<![CDATA[', start)) return until(xml, start + 9, ']]>', 'text');
  const tag = until(xml, start + 1, '>', 'none');
  const parts = tag === null || tag.text.length > MAX_TAG ? null : TAG.exec(tag.text);
  if (tag === null || parts === null) return null;
  const [, closing, name = '', empty] = parts;
  if (closing === '/') return { ...tag, kind: 'close', text: name };
  return empty === '/' ? tag : { ...tag, kind: 'open', text: name };
}

function until(xml: string, from: number, mark: string, kind: 'text' | 'none'): Part | null {
  const end = xml.indexOf(mark, from);
  return end === -1 ? null : { kind, text: xml.slice(from, end), end: end + mark.length };
}

/** Any other reference stays as it is written. */
function decoded(text: string): string {
  return text.replace(/&(lt|gt|amp|quot|apos);/g, (_, name: string) => ENTITIES[name] ?? '');
}

function tidy(values: ReadonlyMap<string, string>): Map<string, string> {
  return new Map(
    [...values]
      .map(([path, text]): [string, string] => [path, text.trim().slice(0, MAX_VALUE)])
      .filter(([, text]) => text !== ''),
  );
}
