import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '../../src/rim/store/store.ts';
import { fakeLedger } from '../fakes/ledger.ts';
import { type LedgerSubject, snoozesContract } from './snoozes.contract.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };

async function real(): Promise<LedgerSubject> {
  const stateDir = mkdtempSync(join(tmpdir(), 'store-snoozes-'));
  const open = () => openStore({ stateDir, now: () => 0, log: silent });
  let store = await open();
  return {
    ledger: () => store.ledger,
    async reopen() {
      await store.close();
      store = await open();
    },
    async end() {
      await store.close();
      rmSync(stateDir, { recursive: true });
    },
  };
}

async function fake(): Promise<LedgerSubject> {
  const ledger = fakeLedger();
  return { ledger: () => ledger, reopen: async () => {}, end: async () => {} };
}

snoozesContract('store', real);
snoozesContract('fake', fake);
