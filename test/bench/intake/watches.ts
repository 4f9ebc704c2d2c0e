import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import type { Ground } from './ground.ts';
import { SETTLED_AFTER } from './load.ts';
import { familyOf, watchesOf } from './processes.ts';
import { folderCount, hundredThousand as shape } from './tree.ts';

/** inotify watches of all processes of a daemon on that tree. */
export async function measureWatches(ground: Ground): Promise<Figure[]> {
  const daemon = await ground.knowing(shape);
  try {
    await daemon.swept();
    await sleep(SETTLED_AFTER * 1000);
    const watches = watchesOf(familyOf(daemon.pid));
    const folders = folderCount(shape);
    return [
      {
        name: 'watches: inotify watches of all processes',
        value: watches,
        unit: 'watches',
        peer: { name: 'folders of the tree', value: folders },
        goal: '= folders',
        holds: watches === folders,
      },
    ];
  } finally {
    await daemon.end();
  }
}
