import { cpSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Daemon, startDaemon } from './daemon.ts';
import { seedState } from './seed.ts';
import { clipCount, type TreeShape, writeTree } from './tree.ts';

/** Where the figures of one run are measured: trees and states are made once, when they are first asked for. */
export interface Ground {
  /** A folder of its own for one measurement. */
  place(name: string): string;
  /** The volume folder of a tree of this shape. */
  tree(shape: TreeShape): string;
  /** Makes a tree, and what a daemon knows of it after an earlier run. */
  prepare(shape: TreeShape): Promise<void>;
  /** Removes a tree that nobody needs any more. */
  remove(shape: TreeShape): void;
  /**
   * A daemon that knows the whole tree from an earlier run; it is ended with the ground at the latest. `more`: what its state folder
   * holds besides.
   */
  knowing(shape: TreeShape, more?: (state: string) => Promise<void>): Promise<Daemon>;
  /** A daemon that knows nothing. */
  fresh(volumes: readonly string[]): Promise<Daemon>;
  /** A daemon whose one volume is empty. */
  idle(): Promise<Daemon>;
  /** Has something undone when the ground is cleared, the last first, before its folders are removed. */
  defer(undo: () => Promise<void> | void): void;
  clear(): Promise<void>;
}

export function openGround(): Ground {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-bench-'));
  const trees = new Map<string, string>();
  const states = new Map<string, Promise<string>>();
  const undoing: (() => Promise<void> | void)[] = [];
  let number = 0;

  function place(name: string): string {
    number += 1;
    const path = join(folder, `${number}-${name}`);
    mkdirSync(path);
    return path;
  }

  function tree(shape: TreeShape): string {
    const known = trees.get(shape.name);
    if (known !== undefined) return known;
    const volume = join(folder, shape.name, 'stripe');
    writeTree(volume, shape);
    trees.set(shape.name, volume);
    return volume;
  }

  function stateOf(shape: TreeShape): Promise<string> {
    const known = states.get(shape.name);
    if (known !== undefined) return known;
    const state = join(folder, `${shape.name}-known`);
    mkdirSync(state, { mode: 0o700 });
    const made = seedState(state, tree(shape), shape).then(() => state);
    states.set(shape.name, made);
    return made;
  }

  async function start(volumes: readonly string[], state: string): Promise<Daemon> {
    const daemon = await startDaemon(volumes, state);
    undoing.push(() => daemon.end('SIGKILL'));
    return daemon;
  }

  return {
    place,
    tree,
    prepare: async (shape) => void (await stateOf(shape)),
    remove(shape) {
      rmSync(join(folder, shape.name), { recursive: true, force: true });
      rmSync(join(folder, `${shape.name}-known`), { recursive: true, force: true });
      trees.delete(shape.name);
      states.delete(shape.name);
    },
    async knowing(shape, more = async () => {}) {
      const state = place('state');
      cpSync(await stateOf(shape), state, { recursive: true });
      await more(state);
      return start([tree(shape)], state);
    },
    fresh: (volumes) => start(volumes, place('state')),
    async idle() {
      const volume = join(place('idle'), 'stripe');
      mkdirSync(volume);
      return start([volume], place('state'));
    },
    defer: (undo) => void undoing.push(undo),
    async clear() {
      for (const undo of undoing.splice(0).reverse()) await undo();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/**
 * Whether a daemon that was started on a known tree took it as known: every clip counted, none taken anew. A bench of
 * a daemon that reads everything again would measure something else.
 */
export async function checkKnown(daemon: Daemon, shape: TreeShape): Promise<void> {
  const snapshot = await daemon.snapshot();
  const clips = snapshot?.projects.reduce((sum, project) => sum + project.clips, 0);
  const anew = daemon.told('clip-ready').length + daemon.told('gone').length + (snapshot?.arrivals.length ?? 0);
  if (clips !== clipCount(shape) || snapshot?.projects.length !== shape.projects || anew > 0) {
    throw new Error(
      `the tree was not found as it was known: ${clips} of ${clipCount(shape)} clips, ${anew} things happened`,
    );
  }
}
