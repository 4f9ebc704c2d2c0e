import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

/** A volume as it looks after many days of shooting. Files are sparse: only their names and stats matter here. */
export interface TreeShape {
  name: string;
  projects: number;
  /** Folders of 12,000 numbered frames, spread over the projects. */
  frameFolders: number;
  /** Folders of single takes, spread over the projects. */
  cards: number;
  /** Takes, spread over the cards; every fourth is sound. */
  takes: number;
}

export const FRAMES_PER_FOLDER = 12_000;

/** 100,000 files in 1,936 folders, five of them with 12,000 frames each. */
export const hundredThousand: TreeShape = {
  name: '100k',
  projects: 5,
  frameFolders: 5,
  cards: 1915,
  takes: 40_000,
};

/** 100,000 clips, each a file of its own, in as many folders. */
export const hundredThousandClips: TreeShape = {
  name: '100k-clips',
  projects: 5,
  frameFolders: 0,
  cards: 1920,
  takes: 100_000,
};

/** 1,000,000 files in 13,420 folders, sixty of them with 12,000 frames each. */
export const million: TreeShape = { name: '1m', projects: 12, frameFolders: 60, cards: 13_323, takes: 280_000 };

const TITLES = ['Saltmarsh', 'Tidewater Sessions', 'Lock Keepers'];

export interface TreeFolder {
  /** Below the root. */
  path: string;
  names: () => Iterable<string>;
}

/** Every folder but the root, parents first. */
export function* foldersOf(shape: TreeShape): Generator<TreeFolder> {
  const share = (total: number, parts: number, part: number): [number, number] => [
    Math.floor((total * part) / parts),
    Math.floor((total * (part + 1)) / parts),
  ];
  for (let project = 0; project < shape.projects; project++) {
    const title = `${TITLES[project % TITLES.length]} ${Math.floor(project / TITLES.length) + 1}`;
    const none = () => [];
    yield { path: title, names: none };
    yield { path: `${title}/Footage`, names: none };
    const [firstCard, endCard] = share(shape.cards, shape.projects, project);
    for (let card = firstCard; card < endCard; card++) {
      const [from, to] = share(shape.takes, shape.cards, card);
      yield { path: `${title}/Footage/A${pad(card, 5)}`, names: () => takeNames(from, to) };
    }
    if (shape.frameFolders === 0) continue;
    yield { path: `${title}/Scans`, names: none };
    const [firstReel, endReel] = share(shape.frameFolders, shape.projects, project);
    for (let reel = firstReel; reel < endReel; reel++) {
      yield { path: `${title}/Scans/reel-${pad(reel, 2)}`, names: () => frameNames(`reel-${pad(reel, 2)}`) };
    }
  }
}

function* takeNames(from: number, to: number): Generator<string> {
  for (let take = from; take < to; take++) {
    yield take % 4 === 3 ? `T${pad(take, 6)}.wav` : `A${pad(take, 6)}C01.mov`;
  }
}

function* frameNames(reel: string): Generator<string> {
  for (let frame = 0; frame < FRAMES_PER_FOLDER; frame++) yield `${reel}_${pad(frame + 86_400, 7)}.dpx`;
}

function pad(number: number, digits: number): string {
  return String(number).padStart(digits, '0');
}

/** Regular files. */
export function fileCount(shape: TreeShape): number {
  return shape.takes + shape.frameFolders * FRAMES_PER_FOLDER;
}

/** With the root. */
export function folderCount(shape: TreeShape): number {
  let folders = 1;
  for (const _ of foldersOf(shape)) folders++;
  return folders;
}

/** Single takes and sequences. */
export function clipCount(shape: TreeShape): number {
  return shape.takes + shape.frameFolders;
}

/** Writes the tree in a process of its own, and out to the disk. */
export function writeTree(folder: string, shape: TreeShape): void {
  runProgram('write-tree.ts', folder, JSON.stringify(shape));
  spawnSync('sync');
}

/** Runs one of the programs of this bench to its end. */
export function runProgram(name: string, ...args: string[]): void {
  const done = spawnSync(process.execPath, [programPath(name), ...args], { stdio: ['ignore', 'ignore', 'inherit'] });
  if (done.status !== 0) throw new Error(`${name} ended with ${done.status ?? done.signal}`);
}

export function programPath(name: string): string {
  return fileURLToPath(new URL(`programs/${name}`, import.meta.url));
}
