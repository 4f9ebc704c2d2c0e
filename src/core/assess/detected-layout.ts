import type { ArrayLevel } from './array-level.ts';
import type { SpeedLayout } from './expected-speed.ts';
import { linkOf } from './link-rates.ts';
import type { ArrayNode, Drive, MemberErrors, StackLevel, StorageNode, StorageStack } from './storage-stack.ts';

/** A layout as the configuration says it. */
export interface DeclaredLayout {
  level: ArrayLevel;
  members: number;
  drive: SpeedLayout['drive'];
  link: string | null;
}

/** How an array is. A stripe has nothing to be degraded with: it is whole, or gone. */
export interface ArrayHealth {
  state: 'whole' | 'degraded' | 'resyncing';
  missing: number;
  action: string | null;
  /** 0..1; `null`: not told. */
  done: number | null;
}

/** What the system shows of a volume's layout; `null`: not told. */
export interface DetectedLayout {
  level: ArrayLevel | 'linear' | null;
  members: number;
  drive: SpeedLayout['drive'] | null;
  /** What each member hangs on itself, and gives at most, bytes per second. */
  link: { name: string; bps: number | null } | null;
  by: ArrayNode['by'] | 'drive';
  drives: Drive[];
  health: ArrayHealth;
  errors: MemberErrors[];
  notSeen: string[];
}

/** Puts a stack in words that the budget and the rules understand; `null`: nothing of it is seen. */
export function detectedLayout({ root, errors, notSeen }: StorageStack): DetectedLayout | null {
  if (root === null) return null;
  const outer = unwrapped(root);
  const drives = drivesOf(root);
  const nested = outer.kind === 'array' && outer.members.some((member) => unwrapped(member).kind === 'array');
  const told = [...notSeen, ...(nested ? ['one level: it is an array of arrays'] : [])];
  return {
    level: outer.kind === 'drive' ? 'single' : nested ? null : outer.level,
    members: outer.kind === 'drive' ? 1 : outer.wanted,
    drive: common(drives.map(kindOf)),
    link:
      common(drives.map(({ link }) => (link === null ? null : JSON.stringify(link)))) === null
        ? null
        : (drives[0]?.link ?? null),
    by: outer.kind === 'drive' ? 'drive' : outer.by,
    drives,
    health: healthOf(root),
    errors,
    notSeen: told,
  };
}

/** An array of one member that misses none is that member. */
function unwrapped(node: StorageNode): StorageNode {
  if (node.kind === 'drive' || node.missing > 0 || node.sync !== null || node.wanted > 1) return node;
  const [only, ...more] = node.members;
  return only !== undefined && more.length === 0 ? unwrapped(only) : node;
}

function drivesOf(node: StorageNode): Drive[] {
  const all = node.kind === 'drive' ? [node.drive] : node.members.flatMap(drivesOf);
  return [...new Map(all.map((drive) => [drive.name, drive])).values()];
}

function kindOf({ transport, rotational }: Drive): SpeedLayout['drive'] | null {
  if (transport === 'nvme') return 'nvme';
  if (rotational === null) return null;
  return rotational ? 'hdd' : 'ssd';
}

function common<Value>(values: readonly (Value | null)[]): Value | null {
  const [first = null] = values;
  return values.every((value) => value === first) ? first : null;
}

/** The worst of all arrays in it. */
function healthOf(node: StorageNode): ArrayHealth {
  const whole: ArrayHealth = { state: 'whole', missing: 0, action: null, done: null };
  if (node.kind === 'drive') return whole;
  if (node.missing > 0) {
    return {
      state: 'degraded',
      missing: node.missing,
      action: node.sync?.action ?? null,
      done: node.sync?.done ?? null,
    };
  }
  if (node.sync !== null) return { state: 'resyncing', missing: 0, action: node.sync.action, done: node.sync.done };
  return node.members.map(healthOf).find(({ state }) => state !== 'whole') ?? whole;
}

/** The layout that the budget is reckoned from, and where it comes from. */
export interface KnownLayout {
  basis: 'detected' | 'declared';
  level: ArrayLevel;
  members: number;
  drive: SpeedLayout['drive'];
  link: string | null;
  /** For the prior. */
  speed: SpeedLayout;
}

/**
 * What is seen counts; where it cannot be seen whole, what is declared; what virtual drives lie on can be declared alone. A box that shows itself as one drive is what declaring is for:
 * there the declared members count. `null`: neither is known.
 */
export function knownLayout(declared: DeclaredLayout | null, detected: DetectedLayout | null): KnownLayout | null {
  const seen = detected === null ? null : seenLayout(detected, declared);
  const isOneOfMany = seen?.level === 'single' && declared !== null && declared.level !== 'single';
  if (seen !== null && !isOneOfMany) {
    // The way to the computer is seen of each member alone; what all hang on together may be declared.
    const link = declared?.link ?? detected?.link?.name ?? null;
    return {
      basis: 'detected',
      ...seen,
      link,
      speed: { ...seen, link: linkOf(declared?.link ?? null), each: eachOf(detected) },
    };
  }
  if (declared === null) return null;
  return { basis: 'declared', ...declared, speed: { ...declared, link: linkOf(declared.link), each: null } };
}

function eachOf(detected: DetectedLayout | null): number | null {
  return detected?.link?.bps ?? null;
}

function seenLayout(
  { level, members, drive: seen }: DetectedLayout,
  declared: DeclaredLayout | null,
): Pick<KnownLayout, 'level' | 'members' | 'drive'> | null {
  const drive = seen ?? declared?.drive ?? null;
  if (level === null || level === 'linear' || drive === null || members < 1) return null;
  return { level, members, drive };
}

/** Where the declared layout speaks against what is seen, in words; `null`: nowhere, or nobody can tell. */
export function layoutContradiction(declared: DeclaredLayout | null, detected: DetectedLayout | null): string | null {
  if (declared === null || detected === null) return null;
  // Many drives may show themselves as one.
  if (detected.by === 'drive') return kindContradiction(declared, detected);
  const told: string[] = [];
  if (detected.level !== null && detected.level !== declared.level) {
    told.push(`level ${declared.level} is declared, and ${levelWords(detected.level)} is seen`);
  }
  if (detected.members > 1 && detected.members !== declared.members) {
    told.push(`${declared.members} members are declared, and ${detected.members} are seen`);
  }
  const kind = kindContradiction(declared, detected);
  if (kind !== null) told.push(kind);
  return told.length === 0 ? null : told.join('; ');
}

/** What hangs on USB often says of itself that it turns, or that it does not. */
function kindContradiction(declared: DeclaredLayout, { drive, drives }: DetectedLayout): string | null {
  if (drive === null || drive === declared.drive || drives.some(({ transport }) => transport === 'usb')) return null;
  return `drives are declared as ${declared.drive}, and ${drive} is seen`;
}

function levelWords(level: StackLevel | ArrayLevel): string {
  return level === 'linear' ? 'one drive after the other' : `level ${level}`;
}
