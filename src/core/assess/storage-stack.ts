/** A whole drive, as the system shows it. `null`: not told. */
export interface Drive {
  /** Kernel name: `sda`, `nvme0n1`. */
  name: string;
  model: string | null;
  serial: string | null;
  bytes: number | null;
  rotational: boolean | null;
  transport: 'nvme' | 'sata' | 'sas' | 'usb' | 'virtual' | null;
  /** What it hangs on itself, as the settings name links, or in words; and what that gives at most, bytes per second. */
  link: { name: string; bps: number | null } | null;
}

/** How an array is put together. `linear`: one member after the other; a stripe over pairs is `10`. */
export type StackLevel = '0' | '1' | '4' | '5' | '6' | '10' | 'linear';

export interface ArrayNode {
  kind: 'array';
  by: 'md' | 'btrfs' | 'lvm' | 'zfs';
  /** `null`: not told. */
  level: StackLevel | null;
  /** What is there of it, with spares, and with what has failed and is still plugged in. */
  members: StorageNode[];
  /** Of so many members it is put together, when none is missing. */
  wanted: number;
  /** Members that ought to be there and are not, or have failed. */
  missing: number;
  /** It is being put right, 0..1 of it done; `null`: it is not, or how far is not told. */
  sync: { action: string; done: number | null } | null;
}

/** What a file system lies on: drives, and arrays of them. Partitions and encryption are looked through. */
export type StorageNode = { kind: 'drive'; drive: Drive } | ArrayNode;

/** Counted trouble of a member. */
export interface MemberErrors {
  /** Kernel name of the drive or member. */
  name: string;
  by: 'md' | 'btrfs' | 'kernel';
  /** Read, write, checksum or I/O errors since it was counted anew. */
  errors: number;
}

/** How warm a drive is, and from where on it warns of itself, °C. */
export interface DriveHeat {
  name: string;
  celsius: number;
  limit: number;
}

export interface StorageStack {
  root: StorageNode | null;
  errors: MemberErrors[];
  heat: DriveHeat[];
  /** What could not be seen, each in words. */
  notSeen: string[];
}
