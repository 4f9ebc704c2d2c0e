import { lookAt } from '../look-at.ts';

/** A process of its own: `look.ts FILE` takes the headline facts of a file, for one who counts what it reads. */
const [file] = process.argv.slice(2);
if (file === undefined) throw new Error('usage: look.ts FILE');

console.log(JSON.stringify(lookAt(file).finding));
