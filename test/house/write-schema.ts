import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { configurationJsonSchema } from '../../src/settings/schema.ts';

/** Writes `config/headroomd.schema.json` anew, in the house's formatting: `node test/house/write-schema.ts`. */
const target = fileURLToPath(new URL('../../config/headroomd.schema.json', import.meta.url));
const biome = fileURLToPath(new URL('../../node_modules/.bin/biome', import.meta.url));
writeFileSync(target, `${JSON.stringify(configurationJsonSchema(), null, 2)}\n`);
execFileSync(biome, ['format', '--write', target], { stdio: 'inherit' });
