import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '../../src/rim/store/store.ts';
import { fakeCatalogue } from '../fakes/catalogue.ts';
import { fakeLedger } from '../fakes/ledger.ts';
import { catalogueContract, type Subject } from './catalogue.contract.ts';
import { sumsContract } from './catalogue.sums.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };

async function real(): Promise<Subject> {
  const stateDir = mkdtempSync(join(tmpdir(), 'store-contract-'));
  const { catalogue, ledger, close } = await openStore({ stateDir, now: () => 0, log: silent });
  const end = async () => {
    await close();
    rmSync(stateDir, { recursive: true });
  };
  return { catalogue, ledger, end };
}

async function fake(): Promise<Subject> {
  const ledger = fakeLedger();
  return { catalogue: fakeCatalogue(ledger), ledger, end: async () => {} };
}

for (const [name, make] of [['store', real] as const, ['fake', fake] as const]) {
  catalogueContract(name, make);
  sumsContract(name, make);
}
