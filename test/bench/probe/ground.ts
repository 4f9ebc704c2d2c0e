import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Clips, makeClips } from './clips.ts';

/** Where the figures of one run are measured. */
export interface Ground {
  /** A folder of its own for one measurement. */
  place(name: string): string;
  /** The clips that both sides read; made when they are first asked for. */
  clips(): Clips;
  clear(): void;
}

export function openGround(): Ground {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-bench-'));
  let number = 0;
  let clips: Clips | null = null;

  function place(name: string): string {
    number += 1;
    const path = join(folder, `${number}-${name}`);
    mkdirSync(path);
    return path;
  }

  return {
    place,
    clips() {
      clips ??= makeClips(place('clips'));
      return clips;
    },
    clear: () => rmSync(folder, { recursive: true, force: true }),
  };
}
