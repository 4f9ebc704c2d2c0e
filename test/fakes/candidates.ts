import type { Candidate, InventoryFile } from '../../src/core/cards/inventory.ts';
import type { Place } from '../../src/core/cards/reconciliation.ts';
import { baseName } from '../../src/core/intake/path-text.ts';
import type { FileRecord } from '../../src/core/model.ts';

/** `CataloguePort.candidates` over all files, by going through them again and again. */
export function candidatesAmong(all: readonly FileRecord[], wanted: readonly InventoryFile[]): Candidate[][] {
  const files = all.filter(({ area }) => area !== 'trash');
  return wanted.map((file) => {
    const named = files.filter(({ path }) => fold(path) === fold(file.path));
    const alike = files.filter(({ size }) => size === file.size);
    const exact = named.filter((one) => file.size === null || one.size === file.size);
    if (exact.length > 0 || file.mtimeMs === null) return exact.slice(0, 20).map(toCandidate);
    if (alike.length > 64) return [];
    const { mtimeMs } = file;
    return alike
      .map(toCandidate)
      .filter((one) => Math.abs(one.mtimeMs - mtimeMs) <= 2000)
      .slice(0, 20);
  });
}

/** `CardStorePort.filesAt`. */
export function filesAtPlaces(all: readonly FileRecord[], places: readonly Place[]): Candidate[] {
  const there = all.filter(({ area }) => area !== 'trash');
  return places.flatMap((place) =>
    there.filter(({ volume, path }) => volume === place.volume && path === place.path).map(toCandidate),
  );
}

function toCandidate({ volume, path, size, mtimeNs, state }: FileRecord): Candidate {
  return { volume, path, size, mtimeMs: Number(mtimeNs / 1_000_000n), state };
}

function fold(path: string): string {
  return baseName(path).replace(/[A-Z]/g, (letter) => letter.toLowerCase());
}
