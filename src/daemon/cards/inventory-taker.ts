import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import { type CardIdentity, identifyCard, oldestOf } from '../../core/cards/card-identity.ts';
import { cardFileRole } from '../../core/cards/card-role.ts';
import type { Inventory, InventoryFile } from '../../core/cards/inventory.ts';
import type { ListOnCard } from '../../core/cards/inventory-list.ts';
import { filesNotOn, isKept } from '../../core/cards/kept-card.ts';
import type { KnownList } from '../../core/cards/known-list.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { formatCount } from '../../core/units.ts';
import type { CardBook } from './card-book.ts';
import type { CardEntry } from './card-entry.ts';

/** What was read of a mounted card. */
export interface CardRead {
  layout: string;
  name: string;
  /** What tells its file system from others. */
  key: string;
  /** Of its first folder, as the card was read. */
  device: bigint;
  ino: bigint;
  /** In the order of their paths. */
  files: InventoryFile[];
  /** Lists among them, by their names. */
  lists: readonly ListOnCard[];
  gap: string | null;
}

/** Earlier inventories of one card that a new reading is compared with. */
const EARLIER = 20;

export interface InventoryTakerDeps {
  book: CardBook;
  clock: Pick<Clock, 'now'>;
  log: Log;
  digest: (text: string) => string;
  /** A list may say something else of contents now. */
  listChanged: (id: string) => void;
}

/** Turns what was read of cards and lists into inventories of the book. */
export interface InventoryTaker {
  reading(mountPoint: string, reading: CardRead): Promise<void>;
  manifest(manifest: Omit<Inventory, 'id' | 'takenAt'>): Promise<void>;
  /** What a history lists in all: a file that was renamed since its first generation has one place. */
  listed(entry: CardEntry, list: KnownList): Promise<void>;
}

export function createInventoryTaker({ book, clock, log, digest, listChanged }: InventoryTakerDeps): InventoryTaker {
  /** What a person said of a card is over when it is seen without footage of it that has arrived. */
  async function takeBack(prefix: string, reading: CardRead): Promise<void> {
    for (const entry of book.entries()) {
      const { head, kept } = entry;
      if (!isKept(kept) || !head.id.startsWith(prefix)) continue;
      await book.open(entry);
      const files = (entry.files ?? []).filter(
        ({ path }) => entry.before.has(path) && cardFileRole(path) === 'footage',
      );
      const lacking = filesNotOn(files, reading.files).length;
      if (lacking === 0) continue;
      await book.say(entry, { ...kept, endedAt: clock.now(), lacking });
      const gone = `${formatCount(lacking, 'file')} of its footage ${lacking === 1 ? 'is' : 'are'} not on it any more`;
      const fields = { event: 'card-not-kept', id: head.id, lacking };
      log.warn(fields, `Card ${display(head.name)} was said to be kept, and ${gone}: it is not counted as kept.`);
    }
  }

  async function takeReading(mountPoint: string, reading: CardRead): Promise<void> {
    const prefix = `${digest(reading.key).slice(0, 8)}-`;
    if (reading.gap === null) await takeBack(prefix, reading);
    const mounted = book.entries().filter((entry) => entry.mountedAt === mountPoint);
    // As it was a minute ago: the rule, and a full card has many files.
    if (mounted.length === 1 && mounted.every((entry) => book.isKnown(entry, reading))) return;
    const others = book
      .entries()
      .filter(({ head, mountedAt }) => head.id.startsWith(prefix) && mountedAt !== mountPoint);
    const whole = reading.gap === null;
    let identity = identifyCard(reading.files, whole, await book.earlier(mounted, mountPoint));
    if (identity.is === 'new') {
      const newest = others.toSorted((one, other) => other.head.takenAt - one.head.takenAt).slice(0, EARLIER);
      identity = identifyCard(reading.files, whole, await book.earlier(newest, mountPoint));
    }
    const id =
      identity.is === 'new' ? prefix + contentOf(reading.files) : identity.is === 'nothing' ? null : identity.id;
    for (const entry of mounted) if (entry.head.id !== id) book.leave(entry);
    if (id === null) return;
    const files = await filesOf(identity, id, reading);
    const known = mounted.find(({ head }) => head.id === id);
    // Since it was put in it was read whole: that this reading broke off, pulled out perhaps, takes nothing from that.
    if (!whole && known?.head.gap === null && book.isKnown(known, { ...reading, gap: null, files })) return;
    const { layout, name, gap } = reading;
    await takeInventory({ id, source: 'card', name, layout, place: mountPoint, on: null, gap, files });
    await book.mount(id, mountPoint);
  }

  /** What is known of the card with this reading: an earlier one may say more. */
  async function filesOf(identity: CardIdentity, id: string, reading: CardRead): Promise<InventoryFile[]> {
    if (identity.is === 'grown') return withGone(reading.files, identity.gone);
    const earlier = identity.is === 'part' ? book.entries().find(({ head }) => head.id === id) : undefined;
    if (earlier === undefined) return reading.files;
    await book.open(earlier);
    return earlier.files ?? reading.files;
  }

  function contentOf(files: readonly InventoryFile[]): string {
    const { path, size, mtimeMs } = oldestOf(files) ?? { path: '', size: 0, mtimeMs: 0 };
    return digest(`${path}\n${size}\n${mtimeMs}`).slice(0, 8);
  }

  async function takeManifest(manifest: Omit<Inventory, 'id' | 'takenAt'>): Promise<void> {
    const folder = dirName(manifest.place);
    const isGeneration = baseName(folder) === HISTORY_FOLDER;
    // All generations of a history are one list.
    const place = isGeneration ? folder : manifest.place;
    const id = `m-${digest(`${manifest.on?.volume}\n${place}`).slice(0, 12)}`;
    listChanged(id);
    const known = isGeneration ? book.entries().find(({ head }) => head.id === id) : undefined;
    if (known !== undefined) await book.open(known);
    const files = unionOf(known?.files ?? [], manifest.files);
    await takeInventory({ ...manifest, id, place, files });
  }

  async function takeListed(entry: CardEntry, { files: listed }: KnownList): Promise<void> {
    const { takenAt: _, ...head } = entry.head;
    const known = new Map((entry.files ?? []).map((file) => [file.path, file]));
    if (entry.files === null || (known.size === listed.length && listed.every(({ path }) => known.has(path)))) return;
    const files = listed.map(({ path, size }) => known.get(path) ?? { path, size, mtimeMs: null });
    await takeInventory({ ...head, files });
  }

  async function takeInventory(inventory: Omit<Inventory, 'takenAt'>): Promise<void> {
    const outcome = await book.take(inventory);
    if (outcome !== 'new') return;
    const { source, name, layout, files, place } = inventory;
    const what = source === 'card' ? `Card seen: ${display(name)} (${layout})` : `Manifest read: ${display(place)}`;
    log.info(
      { event: 'inventory', id: inventory.id, place, files: files.length },
      `${what}: ${formatCount(files.length, 'file')}.`,
    );
  }

  return { reading: takeReading, manifest: takeManifest, listed: takeListed };
}

/** The later one's size and time count. In the order of the earlier, then of the later. */
function unionOf(earlier: readonly InventoryFile[], later: readonly InventoryFile[]): InventoryFile[] {
  return [...new Map([...earlier, ...later].map((file) => [file.path, file])).values()];
}

/** What was on the card and is not any more stays on its list: it may not have arrived. */
function withGone(files: readonly InventoryFile[], gone: readonly InventoryFile[]): InventoryFile[] {
  if (gone.length === 0) return [...files];
  return [...files, ...gone].sort((one, other) => (one.path < other.path ? -1 : 1));
}
