import { openSync, writeSync } from 'node:fs';

/** A process of its own: `grow-files.ts FOLDER COUNT` keeps so many files growing, each by 4 KB every one to two seconds. */
const [folder, count] = process.argv.slice(2);
if (folder === undefined) throw new Error('usage: grow-files.ts FOLDER COUNT');

const part = Buffer.alloc(4096, 7);
for (let number = 0; number < Number(count); number++) {
  const fd = openSync(`${folder}/A001C${String(number).padStart(4, '0')}.mov`, 'w');
  const period = 1000 + ((number * 37) % 1000);
  setTimeout(() => setInterval(() => writeSync(fd, part), period), (number * 53) % 2000);
}
