import { posix } from 'node:path';
import type { InventoryFile } from '../../core/cards/inventory.ts';
import { isOfList, listsOnCard } from '../../core/cards/inventory-list.ts';
import { messageOf } from '../../core/fault.ts';
import { type CardFs, openTree } from './card-tree.ts';
import { type DeviceFs, deviceNames } from './device-names.ts';
import { listFiles, recognise } from './list-card.ts';
import type { CardMount, FromCard } from './protocol.ts';

/** Files in one message: packing so many takes about a millisecond. */
const AT_ONCE = 500;

/**
 * Looks at one mounted file system once, in a process of its own: whether it is a card, and if so what is on it. Reads
 * names and `lstat` alone. Never rejects; the last message says how it ended.
 */
export async function serveCard(
  mount: CardMount,
  fs: CardFs & DeviceFs,
  send: (message: FromCard) => void,
): Promise<void> {
  try {
    send(await look(mount, fs, send));
  } catch (error) {
    send({ type: 'end', is: 'unknown', why: messageOf(error) });
  }
}

async function look(
  mount: CardMount,
  fs: CardFs & DeviceFs,
  send: (message: FromCard) => void,
): Promise<Extract<FromCard, { type: 'end' }>> {
  const tree = openTree(fs, mount.mountPoint);
  const progress = (names: number): void => send({ type: 'progress', names });
  const { signs, empty } = await recognise(tree, { progress });
  if (signs === null) return { type: 'end', is: 'no-card', empty };
  const { label, key } = deviceNames(fs, mount);
  const { device, ino } = tree;
  const name = label ?? posix.basename(mount.mountPoint);
  send({ type: 'recognised', layout: signs.layout, name, key, device, ino });
  const ofLists: InventoryFile[] = [];
  const files = (found: InventoryFile[]): void => {
    for (let at = 0; at < found.length; at += AT_ONCE) {
      send({ type: 'files', files: found.slice(at, at + AT_ONCE) });
    }
    for (const file of found) if (isOfList(file)) ofLists.push(file);
    if (found.length === 0) send({ type: 'progress', names: 0 });
  };
  const gap = await listFiles(tree, { progress, files });
  return { type: 'end', is: 'card', gap, lists: listsOnCard(ofLists) };
}
