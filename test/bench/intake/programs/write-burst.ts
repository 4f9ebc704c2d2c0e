import { closeSync, mkdirSync, openSync } from 'node:fs';

/** A process of its own: `write-burst.ts FOLDER FOLDERS FILES` makes the folders if need be, and the files in them in turn. */
const [folder, folders, files] = process.argv.slice(2);
if (folder === undefined) throw new Error('usage: write-burst.ts FOLDER FOLDERS FILES');

const paths = Array.from({ length: Number(folders) }, (_, number) => `${folder}/b${number}`);
for (const path of paths) mkdirSync(path, { recursive: true });
const each = Math.ceil(Number(files) / paths.length);
for (const path of paths) {
  for (let file = 0; file < each; file++) closeSync(openSync(`${path}/f${file}.bin`, 'w'));
}
