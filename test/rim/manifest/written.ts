import { mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll } from 'vitest';
import type { ManifestOutcome } from '../../../src/core/root-port.ts';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';
import { readManifest } from '../../../src/rim/manifest/read-manifest.ts';

const folder = mkdtempSync(join(tmpdir(), 'headroomd-manifest-'));
afterAll(() => rmSync(folder, { recursive: true }));

/** Absolute path of a name in this run's folder. */
export function at(path: string): string {
  return join(folder, path);
}

/** Reads what lies at a path of this run's folder. */
export function readAt(path: string): Promise<ManifestOutcome> {
  return readManifest(at(path), toFileStat(path, statSync(at(path), { bigint: true })));
}

/** Writes a manifest and reads it. */
export function readWritten(content: string | Uint8Array, path = 'Day 3/list.mhl'): Promise<ManifestOutcome> {
  mkdirSync(dirname(at(path)), { recursive: true });
  writeFileSync(at(path), content);
  return readAt(path);
}
