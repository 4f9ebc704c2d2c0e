import { closeSync, ftruncateSync, mkdirSync, openSync } from 'node:fs';
import { foldersOf, type TreeShape } from '../tree.ts';

/** A process of its own: `write-tree.ts FOLDER SHAPE` makes the tree of that shape (JSON) in a folder. */
const [folder, shape] = process.argv.slice(2);
if (folder === undefined || shape === undefined) throw new Error('usage: write-tree.ts FOLDER SHAPE');

/** Sparse: a size to tell, and no blocks. */
const SIZE = 65_536;

mkdirSync(folder, { recursive: true });
for (const { path, names } of foldersOf(JSON.parse(shape) as TreeShape)) {
  mkdirSync(`${folder}/${path}`);
  for (const name of names()) {
    const fd = openSync(`${folder}/${path}/${name}`, 'w');
    ftruncateSync(fd, SIZE);
    closeSync(fd);
  }
}
