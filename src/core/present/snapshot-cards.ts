import type { CardAssessment, VolumeNotLive } from '../assess/assessment.ts';
import type { CardFileRole } from '../cards/card-role.ts';
import { isComplete, lackingFiles } from '../cards/reconcile.ts';
import type { FileVerdict, ReconciledFile, Reconciliation, Tally } from '../cards/reconciliation.ts';
import type { UnseenDelivery } from '../cards/unseen.ts';
import { type CopiesSnapshot, copiesSnapshot } from './card-copies.ts';
import { type ListOnCardSnapshot, listOnCardSnapshot } from './card-lists.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { type KeptSnapshot, keptSnapshot } from './kept-card.ts';
import { type ListCheckSnapshot, listCheckSnapshot } from './list-check.ts';

/** One card or manifest. All texts are escaped. "Arrived" means by name and size: contents were not compared. */
export interface CardSnapshot {
  id: string;
  name: string;
  source: 'card' | 'manifest';
  layout: string | null;
  /** Mount point, or the manifest's path on its volume. */
  place: string;
  /** The volume a manifest lies on. */
  volume: string | null;
  state: 'mounted' | 'gone' | 'manifest';
  goneSince: IsoTime | null;
  takenAt: IsoTime;
  /** What of the card or manifest could not be read. */
  gap: string | null;
  /** All files of it, and of those the footage. Bytes are `null` when the list does not give every size. */
  files: number;
  bytes: number | null;
  footageFiles: number;
  footageBytes: number | null;
  /** Files by what became of them, all roles together. `arrived` counts the renamed ones too. */
  arrived: number;
  renamed: number;
  arriving: number;
  refused: number;
  removed: number;
  /** Footage and companions that are not there, or not whole; housekeeping is only counted. */
  missingFiles: number;
  missingBytes: number | null;
  missingFootage: number;
  /** Of the missing footage what had arrived and is no longer here. */
  removedFootage: number;
  missingHousekeeping: number;
  /** The first 100 of them, footage first. */
  missing: MissingSnapshot[];
  /** Since when nothing more of it has arrived. */
  quietSince: IsoTime;
  /** All footage of it is here now, by name and size; `null`: a volume with files of it is not live. Never with a gap. */
  complete: boolean | null;
  /** All of it was here at some time. */
  wasComplete: boolean;
  /** Volumes with files of it of which all is told as last seen, and why. */
  notLive: VolumeNotLive[];
  /** The 20 with most of it, and how many there are. */
  deliveries: DeliverySnapshot[];
  deliveryFolders: number;
  /** Verified copies of the files that have arrived; `null`: not looked up yet. */
  copies: CopiesSnapshot | null;
  /** Of a list: what arrived beside what it says of contents; `null`: it is a card, or was not looked at yet. */
  check: ListCheckSnapshot | null;
  /** Lists that lie on the card itself, in the order of their places. */
  lists: ListOnCardSnapshot[];
  /** That a person said the card is kept as it is; `null`: nobody did. */
  kept: KeptSnapshot | null;
}

export interface MissingSnapshot {
  path: string;
  bytes: number | null;
  role: CardFileRole;
  verdict: FileVerdict;
  /** Size of what lies at its place instead, and where. */
  foundBytes: number | null;
  foundAt: string | null;
}

export interface DeliverySnapshot {
  volume: string;
  /** Empty: the volume's root. */
  path: string;
  files: number;
}

export interface UnseenSnapshot {
  volume: string;
  path: string;
  /** `null`: a folder that footage was copied into, by no layout of a card. */
  layout: string | null;
  /** Verified copies of what lies in it; `null`: not looked up. */
  copies: CopiesSnapshot | null;
}

const MOST_MISSING = 100;
const MOST_DELIVERIES = 20;

/** One card or manifest beside what arrived of it, with the names of at most `most` files that are missing. */
export function cardSnapshot(card: CardAssessment, iso: IsoOf, most = MOST_MISSING): CardSnapshot {
  const { inventory, files, deliveries } = card.reconciliation;
  const footage = files.filter(({ role }) => role === 'footage');
  return {
    id: display(inventory.id),
    name: display(inventory.name),
    source: inventory.source,
    layout: displayOrNull(inventory.layout),
    place: display(inventory.place),
    volume: displayOrNull(inventory.on?.volume ?? null),
    state: card.state,
    goneSince: card.goneSince === null ? null : iso(card.goneSince),
    takenAt: iso(inventory.takenAt),
    gap: displayOrNull(inventory.gap),
    files: files.length,
    bytes: bytesOf(files),
    footageFiles: footage.length,
    footageBytes: bytesOf(footage),
    ...countsOf(card.reconciliation),
    ...missingOf(card, most),
    quietSince: iso(card.progress.since),
    complete: card.notLive.length > 0 ? null : isComplete(card.reconciliation),
    wasComplete: card.wasComplete,
    notLive: card.notLive.map(({ volume, state }) => ({ volume: display(volume), state })),
    deliveries: deliveries.slice(0, MOST_DELIVERIES).map((delivery) => ({
      volume: display(delivery.volume),
      path: display(delivery.folder),
      files: delivery.files,
    })),
    deliveryFolders: deliveries.length,
    check: card.check === null ? null : listCheckSnapshot(card.check, iso),
    lists: card.lists.map((list) => listOnCardSnapshot(list, iso)),
    kept: card.kept === null ? null : keptSnapshot(card.kept, iso),
    copies: card.copies === null ? null : copiesSnapshot(card.copies, iso),
  };
}

/** A copied card that was never seen as a card. */
export function unseenSnapshot({ volume, root, layout, copies = null }: UnseenDelivery, iso: IsoOf): UnseenSnapshot {
  return {
    ...{ volume: display(volume), path: display(root), layout: displayOrNull(layout) },
    copies: copies === null ? null : copiesSnapshot(copies, iso),
  };
}

function countsOf({ sums }: Reconciliation) {
  const count = (verdict: FileVerdict) =>
    Object.values<Readonly<Record<FileVerdict, Tally>>>(sums).reduce((sum, tallies) => sum + tallies[verdict].files, 0);
  const renamed = count('arrived-renamed');
  return {
    arrived: count('arrived') + renamed,
    renamed,
    arriving: count('arriving'),
    refused: count('refused'),
    removed: count('removed'),
  };
}

function missingOf({ state, reconciliation, check }: CardAssessment, most: number) {
  // What lies there under another name, by its content, is not missing.
  const renamed = new Set(check?.first.renamed.map(({ from }) => from));
  const lacking = lackingFiles(reconciliation, state === 'gone').filter(({ file }) => !renamed.has(file.path));
  const { missing, differs, removed } = reconciliation.sums.housekeeping;
  return {
    missingFiles: lacking.length,
    missingBytes: bytesOf(lacking),
    missingFootage: lacking.filter(({ role }) => role === 'footage').length,
    removedFootage: reconciliation.sums.footage.removed.files,
    missingHousekeeping: missing.files + differs.files + removed.files,
    missing: lacking.slice(0, most).map(missingSnapshot),
  };
}

function missingSnapshot({ file, role, verdict, found }: ReconciledFile): MissingSnapshot {
  return {
    path: display(file.path),
    bytes: file.size,
    role,
    verdict,
    foundBytes: found?.size ?? null,
    foundAt: found === null ? null : display(found.path),
  };
}

/** `null` as soon as one size is not known. */
function bytesOf(files: readonly ReconciledFile[]): number | null {
  if (files.some(({ file }) => file.size === null)) return null;
  return files.reduce((sum, { file }) => sum + (file.size ?? 0), 0);
}
