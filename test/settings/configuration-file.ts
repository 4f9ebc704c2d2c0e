import { readdirSync, readFileSync } from 'node:fs';

/** What `~` stands for in these tests. */
export const HOME = '/home/editor';

/** The annotated file that is delivered. */
export const annotated = readFileSync(new URL('../../config/headroomd.toml', import.meta.url), 'utf8');

/** The same with every default written out: a `#` directly before a key is taken away. */
export const withDefaults = annotated.replace(/^#([a-z_]+ = )/gm, '$1');

/** Names of the files in test/settings-wrong, without their ending. */
export const wrongCases = readdirSync(new URL('../settings-wrong/', import.meta.url))
  .filter((name) => name.endsWith('.toml'))
  .map((name) => name.slice(0, -'.toml'.length))
  .sort();

/** One of them, as text. */
export function wrongText(name: string): string {
  return readFileSync(new URL(`../settings-wrong/${name}.toml`, import.meta.url), 'utf8');
}
