import { type GroupedUnit, groupUnit, unitOf } from '../../../src/core/intake/group.ts';
import { kindOf } from '../../../src/core/intake/kind.ts';
import { baseName } from '../../../src/core/intake/path-text.ts';
import type { FileRecord } from '../../../src/core/model.ts';

/** A file that has just come, placed by its path. */
export function record(path: string, size = 100): FileRecord {
  const { kind } = kindOf(path);
  const stat = { path, size, allocated: size, mtimeNs: 1n, ctimeNs: 1n, dev: 1n, ino: 1n, nlink: 1 };
  return {
    ...stat,
    volume: 'stripe',
    area: 'project',
    project: 'Saltmarsh',
    kind,
    unit: unitOf(path, kind),
    state: 'arriving',
  };
}

/** Groups files as the flow does: by unit, each unit by itself. */
export function group(paths: readonly string[]): GroupedUnit {
  return groupRecords(paths.map((path) => record(path)));
}

export function groupRecords(records: readonly FileRecord[]): GroupedUnit {
  const grouped = [...Map.groupBy(records, ({ unit }) => unit).values()].map(groupUnit);
  return { clips: grouped.flatMap(({ clips }) => clips), loose: grouped.flatMap(({ loose }) => loose) };
}

/** Names only, for reading. */
export function shape({ clips, loose }: GroupedUnit) {
  return {
    clips: clips.map(({ name, kind, essence, companions, sidecars }) => ({
      name,
      kind,
      essence: namesOf(essence),
      companions: namesOf(companions),
      sidecars: namesOf(sidecars),
    })),
    loose: namesOf(loose),
  };
}

function namesOf(files: readonly FileRecord[]): string[] {
  return files.map(({ path }) => baseName(path));
}
