import { fileURLToPath } from 'node:url';
import type { Figure } from '../figure.ts';
import { type BigFile, bigFiles } from './big-files.ts';
import type { Ground } from './ground.ts';
import { checkFacts } from './look-at.ts';
import { readsOf, type Taken } from './traced.ts';

const MOST_READS = 6;
const MOST_KIB = 100;
const KIB = 1024;

/** What is read of files that are gigabytes long, by ours and by the two tools, as strace sees it. */
export async function measureReads(ground: Ground): Promise<Figure[]> {
  return bigFiles(ground.place('big')).flatMap(ofFile);
}

function ofFile(file: BigFile): Figure[] {
  checkFacts(file.path);
  const program = fileURLToPath(new URL('./programs/look.ts', import.meta.url));
  const ours = readsOf(file.path, process.execPath, [program, file.path]);
  const json = ['-v', 'error', '-show_format', '-show_streams', '-of', 'json'];
  const peers: [string, Taken][] = [
    ['ffprobe', readsOf(file.path, 'ffprobe', [...json, file.path])],
    ['mediainfo', readsOf(file.path, 'mediainfo', ['--Output=JSON', file.path])],
  ];
  const beyond = (taken: Taken) => (taken.bytes - file.header) / KIB;
  return peers.flatMap(([name, taken], index) => [
    {
      name: `reads of a ${file.name}`,
      value: ours.reads,
      unit: 'reads',
      peer: { name, value: taken.reads },
      goal: index === 0 ? readsGoal(file) : null,
      holds: index === 0 ? ours.reads <= MOST_READS + file.fragments : null,
    },
    {
      name: `bytes read of it beyond its header of ${Math.round(file.header / KIB)} KiB`,
      value: beyond(ours),
      unit: 'KiB',
      peer: { name, value: beyond(taken) },
      goal: index === 0 ? `<= ${MOST_KIB} KiB` : null,
      holds: index === 0 ? beyond(ours) <= MOST_KIB : null,
    },
  ]);
}

/** How many pictures there are and how long they are is told by each fragment of its own alone: none can be left out. */
function readsGoal({ fragments }: BigFile): string {
  return fragments === 0 ? `<= ${MOST_READS}` : `<= ${MOST_READS}, and one for each of ${fragments} fragments`;
}
