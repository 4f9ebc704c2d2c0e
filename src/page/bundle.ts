import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { rolldown } from 'rolldown';

/* Makes what the browser is sent of src/page: one script and one style sheet, in src/page/built. Run by `npm ci` (prepare). */

const here = import.meta.dirname;
const built = join(here, 'built');

const bundle = await rolldown({ input: join(here, 'main.ts'), platform: 'browser' });
const { output } = await bundle.generate({ format: 'es', minify: true, comments: { legal: true } });
await bundle.close();
const plotStyle = readFileSync(createRequire(import.meta.url).resolve('uplot/dist/uPlot.min.css'), 'utf8');

mkdirSync(built, { recursive: true });
writeFileSync(join(built, 'page.js'), output[0].code);
writeFileSync(join(built, 'page.css'), `${plotStyle}\n${readFileSync(join(here, 'page.css'), 'utf8')}`);
