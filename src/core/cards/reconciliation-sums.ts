import type { PathText } from '../model.ts';
import { CARD_FILE_ROLES, type CardFileRole } from './card-role.ts';
import { order } from './claim-board.ts';
import type { Candidate, InventoryFile } from './inventory.ts';
import {
  type Claim,
  type Delivery,
  FILE_VERDICTS,
  type FileVerdict,
  type ReconciledFile,
  type Reconciliation,
  type Tally,
} from './reconciliation.ts';

/** What was found for one file of an inventory, before it is judged. */
export interface Found {
  file: InventoryFile;
  role: CardFileRole;
  candidate: Candidate | null;
  renamed: boolean;
  /** The delivery folder that the candidate lies below. */
  folder: PathText | null;
}

/** Judges every file and sums up. `found` is in the order of the inventory's files. */
export function reconciliationOf({ inventory, before }: Claim, found: readonly Found[]): Reconciliation {
  const files = found.map((one): ReconciledFile => {
    const verdict = verdictOf(one, before ?? new Set());
    const { file, role, candidate } = one;
    return { file, role, verdict, found: verdict === 'missing' || verdict === 'removed' ? null : candidate };
  });
  return { inventory, files, sums: sumsOf(files), deliveries: deliveriesOf(found) };
}

function verdictOf({ file, candidate, renamed }: Found, before: ReadonlySet<PathText>): FileVerdict {
  if (candidate === null) return before.has(file.path) ? 'removed' : 'missing';
  if (file.size !== null && candidate.size !== file.size) {
    // Also of what had arrived before: it is copied again.
    if (candidate.state === 'arriving' && candidate.size < file.size) return 'arriving';
    return before.has(file.path) ? 'removed' : 'differs';
  }
  if (candidate.state !== 'ready') return candidate.state;
  return renamed ? 'arrived-renamed' : 'arrived';
}

function sumsOf(files: readonly ReconciledFile[]): Reconciliation['sums'] {
  const nothing = (): Tally => ({ files: 0, bytes: 0 });
  const ofRole = () =>
    Object.fromEntries(FILE_VERDICTS.map((verdict) => [verdict, nothing()])) as Record<FileVerdict, Tally>;
  const sums = Object.fromEntries(CARD_FILE_ROLES.map((role) => [role, ofRole()])) as Record<
    CardFileRole,
    Record<FileVerdict, Tally>
  >;
  for (const { file, role, verdict } of files) {
    const tally = sums[role][verdict];
    tally.files += 1;
    tally.bytes += file.size ?? 0;
  }
  return sums;
}

/** Renamed files below a folder where others have their places count to that folder. */
function deliveriesOf(found: readonly Found[]): Delivery[] {
  const deliveries = new Map<string, Delivery>();
  const count = (volume: string, folder: PathText) => {
    const key = `${volume}\0${folder}`;
    const delivery = deliveries.get(key) ?? { volume, folder, files: 0 };
    deliveries.set(key, { ...delivery, files: delivery.files + 1 });
  };
  const placed = found.filter(({ renamed }) => !renamed);
  for (const { candidate, folder } of placed) if (candidate && folder !== null) count(candidate.volume, folder);
  const folders = [...deliveries.values()];
  for (const { candidate, folder, renamed } of found) {
    if (!renamed || candidate === null || folder === null) continue;
    const home = folders.find(
      (delivery) => delivery.volume === candidate.volume && isBelow(candidate.path, delivery.folder),
    );
    count(candidate.volume, home?.folder ?? folder);
  }
  return [...deliveries.values()].sort(
    (one, other) =>
      other.files - one.files || order(`${one.volume}\0${one.folder}`, `${other.volume}\0${other.folder}`),
  );
}

function isBelow(path: PathText, folder: PathText): boolean {
  return folder === '' || path.startsWith(`${folder}/`);
}
