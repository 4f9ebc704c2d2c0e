import type { LedgerPort, StoredAdvisory } from '../../src/core/ports.ts';

export interface FakeLedger extends LedgerPort {
  /** As if the file had been damaged. */
  lose(): void;
}

/** A ledger in memory. */
export function fakeLedger(): FakeLedger {
  let state: 'sound' | 'lost' = 'sound';
  let stored: readonly StoredAdvisory[] = [];
  return {
    condition: async () => state,
    advisories: async () => structuredClone(stored),
    async putAdvisories(advisories) {
      stored = structuredClone([...advisories]);
    },
    lose() {
      state = 'lost';
    },
  };
}
