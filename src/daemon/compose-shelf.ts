import * as nodeFs from 'node:fs';
import { detectedLayout } from '../core/assess/detected-layout.ts';
import type { ShelfLook } from '../core/backup/shelf-port.ts';
import { messageOf } from '../core/fault.ts';
import { runCommand } from '../rim/drives/commands.ts';
import { readStack } from '../rim/drives/stack.ts';
import { markerAt, markShelf, setAside } from '../rim/shelf/shelf-files.ts';
import { decodeOrder } from '../rim/shelf/shelf-order.ts';
import { toWire } from '../rim/shelf/shelf-port.ts';
import { mountOf } from '../rim/volume/mount.ts';
import { readSpace } from '../rim/volume/space.ts';

/** Entry of the process that does one thing on a shelf. A drive that hangs takes this process along and nothing else. */
process.on('disconnect', () => process.exit(0));

const order = decodeOrder(process.argv[2]);
process.send?.(await answer());

async function answer(): Promise<unknown> {
  switch (order.do) {
    case 'look':
      return toWire(await look(order.path, order.volume));
    case 'mark':
      return { trouble: markShelf(order.path, order.marker) };
    case 'set-aside':
      return { done: setAside(order.guard, order.from, order.to) };
  }
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
