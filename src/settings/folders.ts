import { posix } from 'node:path';
import { Fault } from '../core/fault.ts';
import { assemble } from './assemble.ts';
import type { FullSettings } from './full-settings.ts';
import { holds, parseName, placePath } from './places.ts';
import { configuration } from './schema.ts';
import type { VolumeSettings } from './settings.ts';
import { quoted } from './show.ts';

/** Longest name made from a folder, so that a number still fits behind it. */
const LONGEST = 58;

/**
 * Settings for `headroomd run FOLDER...` without a file: every default, one volume for each folder, named after it.
 * Folders are absolute. One that is given twice, or lies in another, is watched with that one and makes no volume.
 */
export function settingsForFolders(folders: readonly string[]): FullSettings {
  return withFolders(assemble(configuration.parse({}), '/'), folders);
}

/**
 * The same on top of a file: its volumes stay, a folder that one of them already holds adds nothing.
 * Throws Fault `usage` for a folder that holds a volume of the file: its clips would count twice.
 */
export function withFolders(settings: FullSettings, folders: readonly string[]): FullSettings {
  const volumes = [...settings.volumes];
  const taken = new Set([...settings.volumes, ...settings.shelves].map(({ name }) => name));
  const wanted = folders.map((folder) => placePath(folder, '/'));
  for (const [index, folder] of wanted.entries()) {
    const repeated = wanted.indexOf(folder) < index;
    const inAnother = wanted.some((other) => other !== folder && holds(other, folder));
    if (repeated || inAnother || volumes.some(({ path }) => holds(path, folder))) continue;
    refuseHolding(folder, settings.volumes);
    const name = freeName(folder, taken);
    taken.add(name);
    volumes.push(...assemble(configuration.parse({ volume: [{ name, path: folder }] }), '/').volumes);
  }
  return { ...settings, volumes };
}

function refuseHolding(folder: string, volumes: readonly VolumeSettings[]): void {
  const held = volumes.find(({ path }) => holds(folder, path));
  if (held === undefined) return;
  const what = `The folder ${quoted(folder)} holds the volume ${quoted(held.name)} (${quoted(held.path)}) of the configuration`;
  throw new Fault('usage', `${what}. Leave the folder away, or take the volume out of the file.`);
}

/** The folder's own name as one that people can type, with a number behind it when it is taken. */
function freeName(folder: string, taken: ReadonlySet<string>): string {
  const base = [
    ...posix
      .basename(folder)
      .replace(/[\p{C}\p{Zl}\p{Zp}]/gu, '_')
      .trim(),
  ]
    .slice(0, LONGEST)
    .join('')
    .trim();
  const name = base === '' ? 'volume' : base;
  if (!parseName(name).ok) throw new Error(`no name can be made of ${folder}`);
  for (let number = 1; ; number += 1) {
    const candidate = number === 1 ? name : `${name}-${number}`;
    if (!taken.has(candidate)) return candidate;
  }
}
