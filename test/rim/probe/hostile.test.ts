import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, afterEach, describe, expect, test } from 'vitest';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import { createProber, type Prober } from '../../../src/rim/probe/pool.ts';
import { bytesOf, fixture, scratchFolder, statOf, steady } from './files.ts';
import { box, hostileFiles, longSound } from './hostile.ts';

const scratch = scratchFolder();
afterAll(scratch.remove);

let prober: Prober;
afterEach(() => prober.close());

/** Shorter than in use, so that the tests are; a damaged file is given up all the same. */
const IMPATIENT = { stallMs: 2000, totalMs: 6000 };
/** What ending a worker, starting the next and one good file may take on a busy machine. */
const AFTERWARDS_MS = 3000;

function start(): Prober {
  prober = createProber({ limits: IMPATIENT, now: () => performance.now() });
  return prober;
}

async function askAbout(bytes: Buffer, name: string): Promise<{ outcome: ProbeOutcome; ms: number }> {
  const path = join(scratch.path, name);
  writeFileSync(path, bytes);
  const began = performance.now();
  const outcome = await prober.probe(path, statOf(path));
  return { outcome, ms: performance.now() - began };
}

const nothing = { ok: false, reason: 'not-media' };
const givenUp = { ok: false, reason: 'probe-failed' };

/** What is answered of each; where the library finds tracks in what is left, it may. */
const expected: Readonly<Record<string, object>> = {
  'zeros.mov': { ...nothing, detail: expect.stringContaining('all zeros') },
  'random.mxf': { ...nothing, detail: expect.stringContaining('does not begin like') },
  'first-byte.mp4': { ...givenUp, detail: expect.stringContaining('memory') },
  'cut.avi': { ok: true },
  // Its container tells of the tracks; the library does not get through them.
  'tracks.mov': { ok: true, raw: { tracks: [], readerTrouble: expect.stringContaining('media reader') } },
  'compressed.mov': { ...givenUp, detail: expect.stringContaining('memory') },
  'box-sizes.mov': { ok: true },
  'table.mov': { ok: true },
  'nested.mov': nothing,
  'repeated.mp4': givenUp,
};

describe('hostile files', () => {
  test.each(hostileFiles)('$name is answered in time, and the file after it is right', async ({ name, bytes }) => {
    start();
    const good = fixture('A005C001_270211.mov');
    const before = steady(await prober.probe(good, statOf(good)));
    expect(before).toBeInstanceOf(Array);
    const { outcome, ms } = await askAbout(bytes(), name);
    expect(outcome).toMatchObject(expected[name] ?? {});
    expect(ms).toBeLessThan(IMPATIENT.totalMs + AFTERWARDS_MS);
    const began = performance.now();
    expect(steady(await prober.probe(good, statOf(good)))).toEqual(before);
    expect(performance.now() - began).toBeLessThan(AFTERWARDS_MS);
  });
});

/** Each with so much behind its head that a reader which goes astray finds something to chew on. */
const heads: readonly [string, () => Buffer][] = [
  [
    'A004C002_270211.mov',
    () => Buffer.concat([bytesOf('A004C002_270211.mov'), box('free', Buffer.alloc(3_000_000, 'e'))]),
  ],
  ['S003_0042.MP4', () => Buffer.concat([bytesOf('S003_0042.MP4'), box('free', Buffer.alloc(3_000_000))])],
  ['C0001.MXF', () => bytesOf('C0001.MXF')],
  ['SM12-T003.WAV', () => longSound(1_500_000)],
];

describe('one byte of the first 64 is wrong', () => {
  test.each(heads)(
    '%s',
    async (name, make) => {
      start();
      const whole = make();
      const alone = await askAbout(whole, `whole-${name}`);
      expect(alone.outcome).toMatchObject({ ok: true });
      for (let at = 0; at < 64; at++) {
        const damaged = Buffer.from(whole);
        damaged[at] = at === 0 ? 0x7f : (damaged[at] ?? 0) ^ 0xff;
        const { outcome, ms } = await askAbout(damaged, `damaged-${name}`);
        expect(ms, `byte ${at}`).toBeLessThan(IMPATIENT.totalMs + AFTERWARDS_MS);
        if (!outcome.ok)
          expect(['not-media', 'probe-failed'], `byte ${at}: ${outcome.detail}`).toContain(outcome.reason);
      }
      expect(steady((await askAbout(whole, `again-${name}`)).outcome)).toEqual(steady(alone.outcome));
    },
    180_000,
  );
});
