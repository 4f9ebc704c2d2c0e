import { baseName, toUtf8 } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import type { Writers } from '../../core/root-port.ts';
import type { Steps } from './slices.ts';

/** The part of `node:fs` that reading /proc takes. */
export interface ProcFs {
  readdirSync(path: string): string[];
  readlinkSync(path: string, options: { encoding: 'buffer' }): Buffer;
  readFileSync(path: string, encoding: 'utf8'): string;
  statSync(path: string, options: { bigint: true }): { dev: bigint; ino: bigint; uid: bigint };
}

export interface WriterQuestion {
  path: PathText;
  dev: bigint;
  ino: bigint;
  nlink: number;
}

/** An open file of a process: the descriptor's number, and what it leads to, byte for byte. */
export interface WriterFound {
  pid: string;
  descriptor: string;
  target: string;
}

export interface ScanOptions {
  fs: ProcFs;
  /** Our own user id; 0 sees every process. */
  uid: number;
  /** Our own process, which opens nothing for writing. */
  pid: number;
  /** Hears of each writer that is seen. */
  onWriter?: (question: WriterQuestion, writer: WriterFound) => void;
}

/**
 * People's accounts begin here (login.defs UID_MIN). A daemon of the system whose open files we may not see is taken not
 * to write footage: there are always some, and a doubt that never ends would be no answer.
 */
const FIRST_PERSON = 1000n;

const ACCESS_MODE = 0o3;
const FLAGS = /^flags:\s*([0-7]+)/m;

/**
 * Which of these files some process has open for writing, by one look at all open files of all processes.
 *
 * `unknown`: nobody was seen, but the open files of another person's process cannot be read. Not seen by anybody: a
 * writable memory mapping whose file was closed, and writers on other machines.
 */
export function* findWriters(
  questions: readonly WriterQuestion[],
  options: ScanOptions,
): Steps<Map<PathText, Writers>> {
  const scan = new Scan(questions, options);
  for (const pid of scan.processes()) {
    scan.lookAt(pid);
    yield undefined;
  }
  return scan.answers();
}

class Scan {
  readonly #questions: readonly WriterQuestion[];
  readonly #options: ScanOptions;
  /** By base name, byte for byte: one link read tells whether a descriptor can matter. */
  readonly #names: Set<string>;
  /** A file with two names may be open under the one that is not asked for. */
  readonly #anyName: boolean;
  readonly #open = new Set<PathText>();
  #hidden = false;

  constructor(questions: readonly WriterQuestion[], options: ScanOptions) {
    this.#questions = questions;
    this.#options = options;
    this.#names = new Set(questions.map(({ path }) => Buffer.from(toUtf8(baseName(path))).toString('latin1')));
    this.#anyName = questions.some(({ nlink }) => nlink > 1);
  }

  processes(): string[] {
    if (this.#questions.length === 0) return [];
    return attempt(() => this.#options.fs.readdirSync('/proc'), []).filter(
      (name) => /^\d+$/.test(name) && Number(name) !== this.#options.pid,
    );
  }

  lookAt(pid: string): void {
    const { fs } = this.#options;
    let descriptors: string[];
    try {
      descriptors = fs.readdirSync(`/proc/${pid}/fd`);
    } catch (thrown) {
      const { code } = thrown as NodeJS.ErrnoException;
      if (code === 'EACCES' || code === 'EPERM') this.#noteHidden(pid);
      return;
    }
    for (const descriptor of descriptors) this.#lookAtDescriptor(pid, descriptor);
  }

  answers(): Map<PathText, Writers> {
    const unseen: Writers = this.#hidden ? 'unknown' : 'none';
    return new Map(this.#questions.map(({ path }) => [path, this.#open.has(path) ? 'open' : unseen]));
  }

  /** Kernel threads belong to user 0 and are thereby left out. */
  #noteHidden(pid: string): void {
    const uid = attempt(() => this.#options.fs.statSync(`/proc/${pid}`, { bigint: true }).uid, 0n);
    if (uid >= FIRST_PERSON && uid !== BigInt(this.#options.uid)) this.#hidden = true;
  }

  #lookAtDescriptor(pid: string, descriptor: string): void {
    const { fs } = this.#options;
    const target = targetOf({ pid, descriptor }, fs);
    if (!target.startsWith('/')) return;
    if (!this.#anyName && !this.#names.has(target.slice(target.lastIndexOf('/') + 1))) return;
    const stat = attempt(() => fs.statSync(linkOf({ pid, descriptor }), { bigint: true }), null);
    if (stat === null) return;
    const asked = this.#questions.filter(({ dev, ino }) => dev === stat.dev && ino === stat.ino);
    if (asked.length === 0 || !isWritable({ pid, descriptor }, fs)) return;
    for (const question of asked) {
      this.#open.add(question.path);
      this.#options.onWriter?.(question, { pid, descriptor, target });
    }
  }
}

type Descriptor = Pick<WriterFound, 'pid' | 'descriptor'>;

/** Whether a descriptor leads to what it led to. */
export function hasDescriptorFor(writer: WriterFound, fs: ProcFs): boolean {
  return targetOf(writer, fs) === writer.target;
}

/** Whether a descriptor was opened for writing. */
export function isWritable({ pid, descriptor }: Descriptor, fs: ProcFs): boolean {
  const text = attempt(() => fs.readFileSync(`/proc/${pid}/fdinfo/${descriptor}`, 'utf8'), '');
  const flags = FLAGS.exec(text)?.[1];
  return flags !== undefined && (Number.parseInt(flags, 8) & ACCESS_MODE) !== 0;
}

function targetOf(descriptor: Descriptor, fs: ProcFs): string {
  return attempt(() => fs.readlinkSync(linkOf(descriptor), { encoding: 'buffer' }).toString('latin1'), '');
}

function linkOf({ pid, descriptor }: Descriptor): string {
  return `/proc/${pid}/fd/${descriptor}`;
}

/** Processes and their files come and go while one looks. */
function attempt<T>(look: () => T, otherwise: T): T {
  try {
    return look();
  } catch {
    return otherwise;
  }
}
