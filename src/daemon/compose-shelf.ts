import * as nodeFs from 'node:fs';
import { hostname } from 'node:os';
import { detectedLayout } from '../core/assess/detected-layout.ts';
import type { ShelfGuard } from '../core/backup/copy-port.ts';
import type { ShelfList, ShelfLook } from '../core/backup/shelf-port.ts';
import { messageOf } from '../core/fault.ts';
import { answerProcess } from '../rim/base/ask-process.ts';
import { runCommand } from '../rim/drives/commands.ts';
import { readStack } from '../rim/drives/stack.ts';
import { listCopies } from '../rim/manifest/list-copies.ts';
import { isShelf, markerAt, markShelf, setAside } from '../rim/shelf/shelf-files.ts';
import type { ShelfOrder } from '../rim/shelf/shelf-order.ts';
import { mountOf } from '../rim/volume/mount.ts';
import { readSpace } from '../rim/volume/space.ts';

/** Entry of the process that does one thing on a shelf. A drive that hangs takes this process along and nothing else. */
answerProcess((order) => answer(order as ShelfOrder));

function answer(order: ShelfOrder): unknown {
  switch (order.do) {
    case 'look':
      return look(order.path, order.volume);
    case 'mark':
      return { trouble: markShelf(order.path, order.marker) };
    case 'set-aside':
      return setAside(order.guard, order.from, order.to);
    case 'list':
      return { trouble: writeList(order.guard, order.list) };
  }
}

/** The shelf is looked at once more: between two orders it may have gone. */
function writeList(guard: ShelfGuard, list: ShelfList): string | null {
  if (!isShelf(guard)) return `what is at ${guard.root} now is not the shelf that was there.`;
  return listCopies(guard.root, list, { host: hostname(), toolVersion: list.toolVersion });
}

async function look(path: string, volume: string): Promise<ShelfLook> {
  try {
    const found = nodeFs.statSync(path, { bigint: true });
    if (!found.isDirectory()) return { is: 'absent', why: `${path} is a file, not a folder.` };
    const mount = mountOf(nodeFs, nodeFs.realpathSync.native(path));
    const { totalBytes, availableBytes } = readSpace(nodeFs, path);
    return {
      is: 'there',
      marker: markerAt(path),
      device: found.dev,
      isMounted: mount?.mountPoint === nodeFs.realpathSync.native(path),
      readOnly: mount?.readOnly === true,
      fileSystem: mount?.fileSystem ?? null,
      ...{ totalBytes, freeBytes: availableBytes },
      drives: await drivesOf(path),
      volume: await beside(volume),
    };
  } catch (error) {
    const missing = (error as NodeJS.ErrnoException).code === 'ENOENT';
    return { is: 'absent', why: missing ? `${path} does not exist.` : `${path} cannot be read: ${messageOf(error)}.` };
  }
}

async function beside(volume: string): Promise<Extract<ShelfLook, { is: 'there' }>['volume']> {
  try {
    return { device: nodeFs.statSync(volume, { bigint: true }).dev, drives: await drivesOf(volume) };
  } catch {
    return null;
  }
}

/** By serial number; a drive without one by the kernel's name, which is another after a restart. */
async function drivesOf(path: string): Promise<string[]> {
  const mount = mountOf(nodeFs, nodeFs.realpathSync.native(path));
  const layout = mount === null ? null : detectedLayout(await readStack(nodeFs, runCommand, mount));
  return (layout?.drives ?? []).map(({ serial, name }) => serial ?? `name ${name}`);
}
