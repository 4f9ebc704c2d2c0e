import { type Figure, median } from '../figure.ts';
import { type Ground, openGround } from './ground.ts';
import { copyOurs, type OursRun } from './ours.ts';
import { ddTwice, rsyncOnce, rsyncTwice } from './peers.ts';

const MEBIBYTE = 1_048_576;

/** An odd number, so that the middle is one of them; sides take turns, and which begins changes with every round. */
const ROUNDS = Number(process.env['HEADROOMD_BENCH_ROUNDS'] ?? 5);

interface Shape {
  name: string;
  files: number;
  bytes: number;
  /** Most that ours may take, in parts of what dd takes; least that rsync twice takes, in parts of ours. */
  mostOfDd: number;
  leastOfRsync: number;
  isSmall: boolean;
}

export const large = (): Promise<Figure[]> =>
  measure({
    name: '1 file of 4 GiB',
    files: 1,
    bytes: 4096 * MEBIBYTE,
    mostOfDd: 1.1,
    leastOfRsync: 2.5,
    isSmall: false,
  });

export const middle = (): Promise<Figure[]> =>
  measure({
    name: '200 files of 20 MiB',
    files: 200,
    bytes: 20 * MEBIBYTE,
    mostOfDd: 1.15,
    leastOfRsync: 2,
    isSmall: false,
  });

export const frames = (): Promise<Figure[]> =>
  measure({
    name: '20,000 files of 100 KiB',
    files: 20_000,
    bytes: 102_400,
    mostOfDd: 1.5,
    leastOfRsync: 2.5,
    isSmall: true,
  });

/** What each side took in each round: seconds. */
interface Taken {
  ours: OursRun[];
  dd: number[];
  rsync: number[];
  unverified: number[];
}

/**
 * A verified copy beside dd(1) that copies the same bytes as one stream past the cache, flushes and reads them back: no copy is
 * verified sooner on this drive. And beside rsync(1): a copy, and a second run that compares checksums. All begin with a cold cache.
 */
async function measure(shape: Shape): Promise<Figure[]> {
  const ground = openGround(shape.files, shape.bytes);
  try {
    const taken: Taken = { ours: [], dd: [], rsync: [], unverified: [] };
    for (let round = 0; round < ROUNDS; round++) {
      const sides = [
        async () => void taken.ours.push(await copyOurs(ground)),
        async () => void taken.dd.push(ddTwice(ground)),
        async () => void taken.rsync.push(rsyncTwice(ground)),
        ...(shape.isSmall ? [async () => void taken.unverified.push(rsyncOnce(ground))] : []),
      ];
      for (const side of round % 2 === 0 ? sides : sides.toReversed()) {
        ground.cold();
        await side();
        ground.nextShelf(shape.isSmall);
      }
      console.error(roundWords(taken));
    }
    return figuresOf(shape, ground, taken);
  } finally {
    ground.remove();
  }
}

function roundWords({ ours, dd, rsync, unverified }: Taken): string {
  const last = (all: readonly number[]) => all.at(-1)?.toFixed(2) ?? '-';
  const run = ours.at(-1);
  return `  ours ${run?.seconds.toFixed(2)} s (${run?.cpuSeconds.toFixed(2)} s of processor), dd ${last(dd)}, rsync twice ${last(rsync)}, rsync once ${last(unverified)}`;
}

/** Ratios are taken within each round: the drive is not the same from one minute to the next. */
function figuresOf(shape: Shape, { totalBytes }: Ground, { ours, dd, rsync, unverified }: Taken): Figure[] {
  const seconds = median(ours.map((run) => run.seconds));
  const held = (what: string, peers: readonly number[], most: number, goal: string): Figure => {
    const ratio = median(peers.map((peer, round) => (ours[round]?.seconds ?? Number.NaN) / peer));
    return {
      name: `${shape.name}, verified, beside ${what} (middle of ${ROUNDS} ratios ${ratio.toFixed(2)})`,
      ...{ value: seconds, unit: 's', peer: { name: what, value: median(peers) } },
      ...{ goal, holds: ratio <= most },
    };
  };
  const cpu = median(ours.map((run) => run.cpuSeconds));
  const delay = median(ours.map((run) => run.delayP99Ms));
  const calm = median(ours.map((run) => run.calmP99Ms));
  return [
    held('dd past the cache, and back', dd, shape.mostOfDd, `at most ${shape.mostOfDd} of it`),
    held('rsync -a, then --checksum', rsync, 1 / shape.leastOfRsync, `at least ${shape.leastOfRsync} times as fast`),
    ...(shape.isSmall ? [held('rsync -a and sync, unverified', unverified, 1, 'no slower')] : []),
    shape.isSmall
      ? absolute(`${shape.name}, processor time for a file`, (1000 * cpu) / shape.files, 'ms', 0.4)
      : absolute(`${shape.name}, processor time for a GB`, cpu / (totalBytes / 1e9), 's', 0.5),
    absolute(
      `${shape.name}, delay of the parent's event loop, p99 less that at rest`,
      Math.max(0, delay - calm),
      'ms',
      20,
    ),
  ];
}

function absolute(name: string, value: number, unit: string, most: number): Figure {
  return { name, value, unit, peer: null, goal: `at most ${most} ${unit}`, holds: value <= most };
}
