import { lstatSync, readdirSync } from 'node:fs';
import { makeClip, NO_FACTS, NOTHING_KNOWN } from '../../../src/core/intake/clip.ts';
import { groupUnit } from '../../../src/core/intake/group.ts';
import { filesOf } from '../../../src/core/intake/take-clip.ts';
import type { ClipFacts, FileRecord, FileStat } from '../../../src/core/model.ts';
import type { CataloguePort } from '../../../src/core/store-ports.ts';
import { type Placing, preparePlacing } from '../../../src/daemon/intake/placing.ts';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';
import { openStore } from '../../../src/rim/store/store.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { foldersOf, type TreeShape } from './tree.ts';

/** What a clip of such a tree is taken to hold: probing every one of them for real would take hours. */
const FACTS: ClipFacts = {
  ...NO_FACTS,
  container: 'MPEG-4',
  codec: 'ProRes',
  profile: '422 HQ',
  width: 1920,
  height: 1080,
  frameRate: { num: 25, den: 1 },
  variableRate: false,
  scan: 'progressive',
  bitDepth: 10,
  chroma: '4:2:2',
  durationSeconds: 12,
  frames: 300,
  videoBytes: 64_000,
  videoBitrate: 42_000,
  overallBitrate: 43_000,
  startTimecode: '10:00:00:00',
  dropFrame: false,
  audioTracks: 1,
  audioChannels: 2,
};

const silent = { debug() {}, info() {}, warn() {}, error() {} };

/** Units on their way to the store at once. */
const AHEAD = 500;

/**
 * Leaves a state folder as a daemon would that has taken in the whole tree and was stopped in order: real stats of the
 * real files, through the store's own port.
 */
export async function seedState(stateDir: string, volumePath: string, shape: TreeShape): Promise<void> {
  const [volume] = settingsForFolders([volumePath]).volumes;
  if (volume === undefined) throw new Error(`${volumePath} makes no volume`);
  const store = await openStore({ stateDir, now: Date.now, log: silent });
  try {
    const roots = readdirSync(volumePath);
    const prepared = await preparePlacing(volume, roots, store.catalogue);
    await prepared.keep();
    const sending: Promise<void>[] = [];
    for (const { path } of foldersOf(shape)) {
      for (const sent of seedFolder(store.catalogue, prepared.placing, volumePath, path)) {
        sending.push(sent);
        if (sending.length >= AHEAD) await Promise.all(sending.splice(0));
      }
    }
    await Promise.all(sending);
  } finally {
    await store.close();
  }
}

function* seedFolder(catalogue: CataloguePort, placing: Placing, root: string, dir: string): Generator<Promise<void>> {
  const files: FileStat[] = [];
  for (const name of readdirSync(`${root}/${dir}`)) {
    const stat = lstatSync(`${root}/${dir}/${name}`, { bigint: true });
    if (stat.isFile()) files.push(toFileStat(`${dir}/${name}`, stat));
  }
  const records = placing.records(files);
  for (const [unit, members] of Map.groupBy(records, (record) => record.unit)) yield finish(catalogue, unit, members);
}

async function finish(catalogue: CataloguePort, unit: string, members: FileRecord[]): Promise<void> {
  const { clips: groups, loose } = groupUnit(members);
  const clips = groups.map((group) =>
    makeClip(group, { ...NOTHING_KNOWN, facts: FACTS }, { at: Date.now(), evidence: 'container-whole' }),
  );
  const files = filesOf({ clips: groups, loose });
  const ready = files.map((file) => ({ ...file, state: 'ready' as const }));
  const [first] = ready;
  if (first !== undefined) await catalogue.finishUnit(first.volume, unit, ready, clips);
}
