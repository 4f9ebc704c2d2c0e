/** A piece of the page that is replaced as a whole when it is another. */
export interface Block {
  /** Once on the page; may hold names. */
  key: string;
  html: string;
}

export function block(key: string, html: string): Block {
  return { key, html };
}

/** Between two headings. */
export interface PageSection {
  id: string;
  title: string;
  blocks: Block[];
}

/** The page as it is at one moment. */
export interface PageState {
  /** Of headroomd: another version has another page, and another script. */
  version: string;
  title: string;
  /** "as of 2027-03-04 14:05:12". */
  when: string;
  sections: PageSection[];
}

/** What a browser that has one state needs to show another. */
export interface PageChange {
  version: string;
  title: string;
  when: string;
  /** Blocks that are new or other, by key, each with its mark. */
  blocks: Record<string, { html: string; mark: string }>;
  /** Sections of which the order or number of blocks is other: all keys, in order. */
  orders: Record<string, string[]>;
}

/** Whatever is other between the two; from `null` everything. */
export function pageChange(before: PageState | null, now: PageState): PageChange {
  const known = new Map(before?.sections.map((section) => [section.id, section.blocks]));
  const blocks: PageChange['blocks'] = {};
  const orders: PageChange['orders'] = {};
  for (const section of now.sections) {
    const had = known.get(section.id) ?? null;
    const htmlOf = new Map(had?.map(({ key, html }) => [key, html]));
    for (const { key, html } of section.blocks)
      if (htmlOf.get(key) !== html) blocks[key] = { html, mark: markOf(html) };
    const isSame = had?.length === section.blocks.length && had.every(({ key }, at) => key === section.blocks[at]?.key);
    if (!isSame) orders[section.id] = section.blocks.map(({ key }) => key);
  }
  return { version: now.version, title: now.title, when: now.when, blocks, orders };
}

/**
 * A short mark of a text, another for another text but for one case in four thousand million: FNV-1a, 32 bit (RFC 9923), with the length
 * before it.
 */
export function markOf(text: string): string {
  let hash = 0x811c9dc5;
  for (let at = 0; at < text.length; at++) {
    hash = Math.imul(hash ^ (text.charCodeAt(at) & 0xff), 0x01000193);
    hash = Math.imul(hash ^ (text.charCodeAt(at) >> 8), 0x01000193);
  }
  return `${text.length}.${(hash >>> 0).toString(16)}`;
}
