import { bytesOf, type Part, u16 } from './bmff-parts.ts';

const MAX_TEXT_BYTES = 1024;

/** Language codes below this are of the Macintosh and tell its character sets, from it on they are ISO 639 in Unicode. */
const FIRST_UNICODE_LANGUAGE = 0x400;

const UTF8 = new TextDecoder('utf-8', { fatal: true });
const OTHERS = { macintosh: new TextDecoder('macintosh'), 'utf-16be': new TextDecoder('utf-16be') };

/** QuickTime File Format, User Data Text: length and language in two bytes each, then the text. `null` for none. */
export function internationalText(part: Part): string | null {
  const bytes = bytesOf(part, 4, Math.min(u16(part, 0), MAX_TEXT_BYTES));
  return tidy(u16(part, 2) < FIRST_UNICODE_LANGUAGE ? unicodeElse(bytes, 'macintosh') : unicodeElse(bytes, 'utf-16be'));
}

/** Text of a metadata value, kind 1 is UTF-8 and kind 2 UTF-16 (QuickTime File Format, Well-Known Types). */
export function metadataText(part: Part, kind: number): string | null {
  const bytes = bytesOf(part, 8, MAX_TEXT_BYTES);
  if (kind === 2) return tidy(OTHERS['utf-16be'].decode(bytes));
  return kind === 1 ? tidy(unicodeElse(bytes, 'macintosh')) : null;
}

function unicodeElse(bytes: Uint8Array, otherwise: keyof typeof OTHERS): string {
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return OTHERS['utf-16be'].decode(bytes);
  try {
    return UTF8.decode(bytes);
  } catch {
    return OTHERS[otherwise].decode(bytes);
  }
}

/** Up to the first zero, without the blanks around it; text of nothing, or with characters that no text has, is none. */
function tidy(text: string): string | null {
  const until = text.indexOf('\0');
  const tidied = (until < 0 ? text : text.slice(0, until)).trim();
  return tidied === '' || /[\p{Cc}\ufffd]/u.test(tidied) ? null : tidied;
}
