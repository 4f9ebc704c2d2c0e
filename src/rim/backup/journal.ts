import {
  closeSync,
  fdatasyncSync,
  fsyncSync,
  lstatSync,
  openSync,
  readdirSync,
  readFileSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { NEW_FLAGS } from './direct.ts';
import { removeParts } from './publish.ts';
import type { Shelf } from './shelf.ts';
import { removeIfThere } from './small-calls.ts';

const NAME = /^\.headroomd-copying-([0-9a-f]{8})-\d+$/;

/** A process, told from all others on all machines. */
interface Owner {
  machine: string;
  boot: string;
  pid: number;
  /** When it began, in ticks since the machine started: numbers of processes come again. */
  began: string;
}

interface Note {
  owner: Owner;
  /** Of each file that may be under way: its number and its target. */
  files: [id: number, target: PathText][];
}

/** What a file is called until it is verified: short, whatever its own name is, and ours by the job's own token. */
export function partName(token: string, id: number): string {
  return `.${token}-${id}.part`;
}

/** What it is called for a moment where there are no hard links. */
export function heldName(token: string, id: number): string {
  return `.${token}-${id}.held`;
}

/** Files in the shelf's root that name what one batch may leave behind when it is killed; written, durably, before the first of these is made. */
export class Journal {
  readonly #shelf: Shelf;
  readonly #token: string;
  readonly #owner: Owner;
  #batch = 0;

  /** `token`: eight hexadecimal digits, of this job alone. */
  constructor(shelf: Shelf, token: string) {
    this.#shelf = shelf;
    this.#token = token;
    this.#owner = ownerNow(process.pid);
  }

  /** @throws what the calls throw */
  begin(files: Note['files']): void {
    this.#batch++;
    const note: Note = { owner: this.#owner, files };
    const path = this.#path();
    const fd = openSync(path, NEW_FLAGS, 0o600);
    try {
      try {
        writeFileSync(fd, JSON.stringify(note));
        fdatasyncSync(fd);
      } finally {
        closeSync(fd);
      }
      fsyncSync(this.#shelf.root);
    } catch (error) {
      removeIfThere(path);
      throw error;
    }
  }

  /** Nothing of the batch is left but what has its name. */
  end(): void {
    unlinkSync(this.#path());
  }

  #path(): string | Buffer {
    return this.#shelf.pathOf(this.#shelf.root, `.headroomd-copying-${this.#token}-${this.#batch}`);
  }
}

/**
 * Removes what killed jobs of this user on this machine left on a shelf: exactly the files that their journals name, by names that only we
 * make. What a living process is at stays; so does a journal whose files cannot be looked at now.
 * @returns how many files were removed
 */
export function removeLeftovers(shelf: Shelf): number {
  let removed = 0;
  for (const name of readdirSync(shelf.pathOf(shelf.root, '.'))) {
    const token = NAME.exec(name)?.[1];
    if (token === undefined) continue;
    const path = shelf.pathOf(shelf.root, name);
    try {
      const stat = lstatSync(path);
      if (!stat.isFile() || stat.uid !== process.getuid?.()) continue;
      const note = readNote(path);
      if (note !== null && mayStillRun(note.owner)) continue;
      for (const [id, target] of note?.files ?? []) removed += removeLeft(shelf, token, id, target);
      unlinkSync(path);
    } catch {
      // It stays, and so does what it names: looked at again at the next start.
    }
  }
  shelf.closeFolders();
  return removed;
}

/** `null`: it was cut off before it was whole, so that none of its files was made yet. */
function readNote(path: string | Buffer): Note | null {
  const text = readFileSync(path, 'utf8');
  try {
    return JSON.parse(text) as Note;
  } catch {
    return null;
  }
}

function removeLeft(shelf: Shelf, token: string, id: number, target: PathText): number {
  if (!Number.isSafeInteger(id)) return 0;
  let folder: number;
  try {
    folder = shelf.folder(dirName(target), false);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return 0;
    throw error;
  }
  const at = (name: PathText) => shelf.pathOf(folder, name);
  const mine = { part: at(partName(token, id)), held: at(heldName(token, id)), final: at(baseName(target)) };
  return removeParts(mine);
}

/** A boot's id is of one machine alone: it tells that machine also where its own name could not be read. */
function mayStillRun(owner: Owner): boolean {
  const here = ownerNow(owner.pid);
  const isBootKnown = owner.boot !== '' && owner.boot === here.boot;
  if (owner.machine !== here.machine && !isBootKnown) return true;
  return owner.boot === here.boot && owner.began !== '' && owner.began === here.began;
}

/** What is not known is empty. */
function ownerNow(pid: number): Owner {
  return {
    machine: textOf('/etc/machine-id').trim(),
    boot: textOf('/proc/sys/kernel/random/boot_id').trim(),
    pid,
    // proc_pid_stat(5): field 22; the second, the program's name, may have spaces and brackets in it.
    began: textOf(`/proc/${pid}/stat`).split(') ').at(-1)?.split(' ')[19] ?? '',
  };
}

function textOf(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return '';
  }
}
