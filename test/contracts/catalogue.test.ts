import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '../../src/rim/store/store.ts';
import { fakeCatalogue } from '../fakes/catalogue.ts';
import { fakeLedger } from '../fakes/ledger.ts';
import { catalogueContract, type Subject } from './catalogue.contract.ts';
import { exposureContract } from './catalogue.exposure.ts';
import { forgetContract } from './catalogue.forget.ts';
import { movesContract } from './catalogue.moves.ts';
import { partsContract } from './catalogue.parts.ts';
import { sumsContract } from './catalogue.sums.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };

async function real(): Promise<Subject> {
  const stateDir = mkdtempSync(join(tmpdir(), 'store-contract-'));
  const clock = { now: 0 };
  const { catalogue, ledger, close } = await openStore({ stateDir, now: () => clock.now, log: silent });
  const end = async () => {
    await close();
    rmSync(stateDir, { recursive: true });
  };
  return { catalogue, ledger, clock, end };
}

async function fake(): Promise<Subject> {
  const ledger = fakeLedger();
  const clock = { now: 0 };
  return { catalogue: fakeCatalogue(ledger, () => clock.now), ledger, clock, end: async () => {} };
}

for (const [name, make] of [['store', real] as const, ['fake', fake] as const]) {
  catalogueContract(name, make);
  forgetContract(name, make);
  movesContract(name, make);
  partsContract(name, make);
  sumsContract(name, make);
  exposureContract(name, make);
}
