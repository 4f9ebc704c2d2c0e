import { watch } from 'chokidar';

/** A process of its own: `watch-alone.ts FOLDER` watches with every default, and says when it has read all. */
const [folder] = process.argv.slice(2);
if (folder === undefined) throw new Error('usage: watch-alone.ts FOLDER');

const watcher = watch(folder);
watcher.on('error', (error) => console.error(error));
watcher.on('ready', () => console.log('ready'));
