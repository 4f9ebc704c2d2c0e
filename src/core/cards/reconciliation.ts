import type { Instant, PathText } from '../model.ts';
import type { CardFileRole } from './card-role.ts';
import type { Candidate, Inventory, InventoryFile } from './inventory.ts';

/**
 * What became of one file of an inventory. By name and size only: contents were not compared.
 * - `arrived`: a ready file of its name and size is there;
 * - `arrived-renamed`: a ready file of its size and time is there under another name;
 * - `arriving`: its copy is under way, or not looked through yet (`found` tells how far it came);
 * - `refused`: a file of its name and size is there, but was refused as it is (the arrivals say why);
 * - `differs`: at its place there is a file of another size (`found`);
 * - `removed`: it had arrived, and is no longer here: it was changed or taken away since;
 * - `missing`: nothing of it is known on any volume.
 */
export type FileVerdict = 'arrived' | 'arrived-renamed' | 'arriving' | 'refused' | 'differs' | 'removed' | 'missing';

export const FILE_VERDICTS: readonly FileVerdict[] = [
  'arrived',
  'arrived-renamed',
  'arriving',
  'refused',
  'differs',
  'removed',
  'missing',
];

export interface ReconciledFile {
  file: InventoryFile;
  role: CardFileRole;
  verdict: FileVerdict;
  /** The file on a volume that the verdict speaks of; `null` of `missing` and `removed`. */
  found: Candidate | null;
}

/** A folder on a volume below which files of the inventory have arrived. */
export interface Delivery {
  volume: string;
  /** Empty: the volume's root. */
  folder: PathText;
  /** Files of the inventory that were found below it, in whatever state. */
  files: number;
}

export interface Tally {
  files: number;
  bytes: number;
}

/** An inventory beside what has arrived. Serialisable; every file of the inventory is in `files` exactly once, in its order. */
export interface Reconciliation {
  inventory: Inventory;
  files: readonly ReconciledFile[];
  sums: Readonly<Record<CardFileRole, Readonly<Record<FileVerdict, Tally>>>>;
  /** Where most of it lies first. Of a manifest its own folder. */
  deliveries: readonly Delivery[];
}

/** A place on a volume that the store is asked about. */
export interface Place {
  volume: string;
  path: PathText;
}

/** What is known for one inventory. */
export interface Claim {
  inventory: Inventory;
  /** For each file of the inventory, in its order: `CataloguePort.candidates`. May be empty lists for a manifest. */
  candidates: readonly (readonly Candidate[])[];
  /** Paths of the inventory that had arrived at an earlier time: gone now, they are `removed`, not `missing`. */
  before?: ReadonlySet<PathText>;
}

/** How far an inventory has come, and since when no further. Serialisable. */
export interface Progress {
  /** Changes whenever more has arrived. */
  mark: string;
  since: Instant;
}
