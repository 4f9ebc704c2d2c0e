import { escapeXml } from './mhl-text.ts';

/** One generation in a history's chain: its manifest's name, and the C4 identifier of the manifest's bytes. */
export interface ChainLink {
  number: number;
  file: string;
  c4: string;
}

/** What is wrong with the numbers or names of a chain; `null` when they run from 1 without a gap (specification, 7.4). */
export function chainTrouble(links: readonly ChainLink[]): string | null {
  const names = new Set<string>();
  for (const [index, { number, file }] of links.entries()) {
    if (number !== index + 1) return `its entry ${index + 1} has the number ${number}`;
    if (file === '' || file.includes('/') || file === '.' || file === '..') return `its entry ${number} names no file`;
    if (names.has(file)) return `it names ${file} twice`;
    names.add(file);
  }
  return links.length === 0 ? 'it names no manifest' : null;
}

/** The chain file's text, as its schema has it. */
export function renderChain(links: readonly ChainLink[]): string {
  const lists = links.map(
    ({ number, file, c4 }) => `  <hashlist sequencenr="${number}">
    <path>${escapeXml(file)}</path>
    <c4>${c4}</c4>
  </hashlist>
`,
  );
  return `<?xml version="1.0" encoding="UTF-8"?>
<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0">
${lists.join('')}</ascmhldirectory>
`;
}
