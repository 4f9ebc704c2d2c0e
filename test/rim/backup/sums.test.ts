import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { ReadOutcome } from '../../../src/core/backup/copy-port.ts';
import { SUM_FORMATS, type SumFormat, type Sums } from '../../../src/core/backup/sums.ts';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { RunningSums, sumsOf } from '../../../src/rim/backup/sums.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { c4ByHand } from '../manifest/by-hand.ts';

/** The programs that write such lists: GNU coreutils, and xxhsum(1) of xxHash. C4 by hand after SMPTE ST 2114. */
const PROGRAMS: Record<Exclude<SumFormat, 'c4'>, string[]> = {
  ...{ md5: ['md5sum'], sha1: ['sha1sum'], sha224: ['sha224sum'], sha256: ['sha256sum'], sha384: ['sha384sum'] },
  ...{ sha512: ['sha512sum'], b2: ['b2sum'] },
  ...{ xxh32: ['xxhsum', '-H0'], xxh64: ['xxhsum', '-H1'], xxh128: ['xxhsum', '-H2'], xxh3: ['xxhsum', '-H3'] },
};

const folder = mkdtempSync(join(tmpdir(), 'headroomd-sums-'));
afterAll(() => rmSync(folder, { recursive: true }));

function byProgram(file: string, bytes: Buffer, format: SumFormat): string {
  if (format === 'c4') return c4ByHand(bytes);
  const [program = '', ...options] = PROGRAMS[format];
  const told = execFileSync(program, [...options, file], { encoding: 'utf8' });
  // `xxhsum -H3` writes the form of BSD: "XXH3 (file) = value".
  return (/= ([0-9a-f]+)\s*$/.exec(told) ?? /^\\?(?:XXH3_)?([0-9a-f]+)/.exec(told))?.[1] ?? told;
}

/** Around the sizes at which hashes change their way, and at which a file is read piece by piece. */
const SIZES = [0, 1, 240, 241, 1023, 1024, 1025, 4 * 1_048_576, 4 * 1_048_576 + 1, 9_000_001];

describe('hashes as lists write them', () => {
  for (const size of SIZES) {
    test(`${size} bytes: as the programs make them, in memory, in pieces, and read by a job`, async () => {
      const bytes = Buffer.from(Uint8Array.from({ length: size }, (_, n) => (n * 2_654_435_761) >>> 13));
      const file = join(folder, `${size}.mov`);
      writeFileSync(file, bytes);
      const expected: Sums = Object.fromEntries(SUM_FORMATS.map((format) => [format, byProgram(file, bytes, format)]));
      expect(sumsOf(bytes, SUM_FORMATS)).toEqual(expected);
      const running = await RunningSums.of(SUM_FORMATS);
      for (let at = 0; at < size; at += 65_537) running.update(bytes.subarray(at, at + 65_537));
      expect(running.digest()).toEqual(expected);

      const outcomes: ReadOutcome[] = [];
      const item = { id: 1, path: `${size}.mov`, size, expected: null, also: SUM_FORMATS };
      const job = { place: { volume: folder }, pace: { paused: false, ceilingBps: null } };
      const settled = (some: ReadOutcome[]) => void outcomes.push(...some);
      const end = await createCopyPort({ clock: systemClock }).readBack(
        job,
        [item],
        { settled },
        new AbortController().signal,
      ).end;
      expect(end).toEqual({ ended: 'done' });
      expect(outcomes).toMatchObject([{ is: 'read', bytes: size, hash: expected.xxh64, sums: expected }]);
    });
  }
});
