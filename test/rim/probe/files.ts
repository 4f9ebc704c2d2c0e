import { lstatSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { FileStat } from '../../../src/core/model.ts';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';

/** The committed clips. */
const media = fileURLToPath(new URL('../../fixtures/media', import.meta.url));

/** Every committed clip, the frames by their first. */
export const fixtures: readonly string[] = [
  ...readdirSync(media).filter((name) => name.includes('.')),
  'N001C001_270303/N001C001_270303.0086400.dpx',
].sort();

export function fixture(name: string): string {
  return join(media, name);
}

export function bytesOf(name: string): Buffer {
  return readFileSync(fixture(name));
}

/** A folder of its own, and what removes it. */
export function scratchFolder(): { path: string; remove(): void } {
  const path = mkdtempSync(join(tmpdir(), 'headroomd-probe-'));
  mkdirSync(path, { recursive: true });
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) };
}

export function statOf(path: string | Buffer): FileStat {
  return toFileStat('clip', lstatSync(path, { bigint: true }));
}

/** Tracks without `Delay`, which the library gives at random for MXF: same file, same instance, two values. */
export function steady(outcome: ProbeOutcome): unknown {
  if (!outcome.ok) return outcome;
  return outcome.raw.tracks.map((track) =>
    Object.fromEntries(Object.entries(track).filter(([key]) => !key.includes('Delay') && key !== 'extra')),
  );
}
