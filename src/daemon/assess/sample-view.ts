import type { SpeedSample } from '../../core/assess/speed-sample.ts';
import type { KeptSample, LedgerPort } from '../../core/store-ports.ts';

export interface SampleView {
  start(): Promise<void>;
  /** What was measured of a volume while it was put together as it is now. */
  of(volume: string): SpeedSample[];
  /** One was measured. Resolves when it is kept durably. */
  add(sample: SpeedSample): Promise<void>;
}

/** The measurements. `build`: how a volume is put together now, in one word that is another after every change. */
export function createSampleView(ledger: LedgerPort, build: (volume: string) => string): SampleView {
  let kept: KeptSample[] = [];
  return {
    async start() {
      kept = [...(await ledger.speedSamples())];
    },
    of: (volume) =>
      kept
        .filter(({ sample, build: then }) => sample.volume === volume && then === build(volume))
        .map(({ sample }) => sample),
    async add(sample) {
      const one = { build: build(sample.volume), sample };
      await ledger.putSpeedSample(one);
      kept.push(one);
    },
  };
}
