import { hasEscapes, toUtf8 } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/**
 * Why a path cannot stand in a list. `not-utf-8`: it has bytes that are no text; `not-xml`: characters that XML 1.0 has no
 * way to write; `no-path`: empty, or it leads out of its folder.
 */
export type Unwritable = 'not-utf-8' | 'not-xml' | 'no-path';

/** XML 1.0, production Char, without what is no character in UTF-8 either. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is looked for.
const NO_XML = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/;
const NO_XML_EACH = new RegExp(NO_XML.source, 'g');
const MARKUP = /[&<>"\t\n\r]/;
const MARKUP_EACH = /[&<>"\t\n\r]/g;
const WRITTEN: Record<string, string> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  // As they are, a reader would make line feeds of returns, and spaces of all three in attributes.
  '\t': '&#x9;',
  '\n': '&#xA;',
  '\r': '&#xD;',
};

const strict = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** A path's true characters, or why a list cannot have it. */
export function pathForList(path: PathText): { text: string } | { unwritable: Unwritable } {
  const text = textOf(path);
  if (text === null) return { unwritable: 'not-utf-8' };
  if (NO_XML.test(text)) return { unwritable: 'not-xml' };
  const leadsOut = text.split('/').some((name) => name === '' || name === '.' || name === '..');
  return leadsOut ? { unwritable: 'no-path' } : { text };
}

/** Text as it is written between tags and in attributes. What XML cannot have becomes U+FFFD: check paths before. */
export function escapeXml(text: string): string {
  const clean = NO_XML.test(text) ? text.replace(NO_XML_EACH, '\ufffd') : text;
  return MARKUP.test(clean) ? clean.replace(MARKUP_EACH, (sign) => WRITTEN[sign] ?? sign) : clean;
}

/** Escapes of a path text may stand for genuine characters of the private range: only the bytes tell. */
function textOf(path: PathText): string | null {
  if (!hasEscapes(path)) return path.isWellFormed() ? path : null;
  try {
    return strict.decode(toUtf8(path));
  } catch {
    return null;
  }
}
