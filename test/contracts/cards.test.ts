import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore } from '../../src/rim/store/store.ts';
import { fakeCatalogue } from '../fakes/catalogue.ts';
import { fakeLedger } from '../fakes/ledger.ts';
import { type CardSubject, cardsContract } from './cards.contract.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };

async function real(): Promise<CardSubject> {
  const stateDir = mkdtempSync(join(tmpdir(), 'store-cards-'));
  const { close, ...store } = await openStore({ stateDir, now: () => 0, log: silent });
  const end = async () => {
    await close();
    rmSync(stateDir, { recursive: true });
  };
  return { ...store, end };
}

async function fake(): Promise<CardSubject> {
  const ledger = fakeLedger();
  const catalogue = fakeCatalogue(ledger);
  return { ledger, catalogue, cards: { ...ledger, filesAt: catalogue.filesAt }, end: async () => {} };
}

cardsContract('store', real);
cardsContract('fake', fake);
