import { writeSync } from 'node:fs';
import { openStore } from '../../../src/rim/store/store.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';

/* Writes without end and says on stdout what was acknowledged; to be killed. Arguments: state folder, round. */

const [stateDir = '', round = '0'] = process.argv.slice(2);
const log = { debug() {}, info() {}, warn() {}, error() {} };
const { catalogue, ledger } = await openStore({ stateDir, now: Date.now, log });

for (let n = 0; ; n += 1) {
  const unit = `Saltmarsh/${round}/take-${n}`;
  const frame = { unit, project: 'Saltmarsh', size: 1000 + n };
  const files = Array.from({ length: 20 }, (_, i) =>
    someFile(`${unit}/frame-${i}.dpx`, { ...frame, nlink: i < 3 ? 2 : 1, ino: BigInt(n * 100 + (i >> 1)) }),
  );
  await catalogue.putFiles(files.map((file) => ({ ...file, state: 'arriving' })));
  writeSync(1, `file ${unit}\n`);
  await catalogue.finishUnit('stripe', unit, files, [clipOf(files, PRORES_UHD25)]);
  writeSync(1, `clip ${unit}\n`);
  const count = Number(round) * 1_000_000 + n;
  await ledger.putAdvisories([{ id: 'last', json: String(count) }]);
  writeSync(1, `ledger ${count}\n`);
}
