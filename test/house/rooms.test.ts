import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));

/** Folders with source in them, as `src/core/intake`. */
function folders(below: string): string[] {
  return (
    readdirSync(`${root}/${below}`, { withFileTypes: true, recursive: true })
      .filter((entry) => entry.isFile() && /\.(ts|tsx|css|html)$|^headroomd$/.test(entry.name))
      .map((entry) => entry.parentPath.slice(root.length).replace(/^\//, ''))
      // What is made when packages are installed is nobody's source.
      .filter((folder) => folder !== 'src/page/built')
  );
}

test('the room table of DEVELOPERS.md names the folders that exist, and no other', () => {
  const table = [...readFileSync(`${root}/DEVELOPERS.md`, 'utf8').matchAll(/^\| `(src[^`]*)` \|/gm)].map(
    (row) => row[1],
  );
  expect(table.length).toBeGreaterThan(10);
  expect([...table].sort()).toEqual([...new Set(folders('src'))].sort());
});

test('the test folders that DEVELOPERS.md names exist', () => {
  const named = [...readFileSync(`${root}/DEVELOPERS.md`, 'utf8').matchAll(/^\| `(test\/[^`]*)` \|/gm)].map(
    (row) => row[1],
  );
  expect(named.length).toBeGreaterThan(5);
  expect(named.filter((folder) => !existsSync(`${root}/${folder}`))).toEqual([]);
});
