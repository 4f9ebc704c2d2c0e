import { compareSeen } from '../../core/intake/compare.ts';
import type { FileStat, PathText, Space } from '../../core/model.ts';
import type { ContentOutcome, Evidence, ManifestOutcome, ProbeOutcome } from '../../core/root-port.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import { InsideRoot } from './inside-root.ts';
import { type InspectFs, inspect } from './inspect.ts';
import { isMissing } from './missing-error.ts';
import type { OpenFiles } from './open-files.ts';
import { type PackedManifest, packManifest } from './packing.ts';
import type { Request } from './protocol.ts';
import type { RootFound } from './root-check.ts';
import { inSlices, type Steps } from './slices.ts';
import { stampsOf, trustworthy } from './stamps.ts';
import type { ProcFs } from './writers.ts';

/** What reads files on a root, from other rooms. Each gets the absolute folder that the file's path is relative to. */
export interface Readers {
  /** Reads a clip's facts. */
  probe: (file: FileStat, base: string) => Promise<ProbeOutcome>;
  /** Reads a manifest. */
  manifest: (file: FileStat, base: string) => Promise<ManifestOutcome>;
  /** Reads a small file whole. */
  content: (file: FileStat, base: string) => ContentOutcome;
  /** The room on the file system of an absolute path. */
  space: (path: string) => Space;
}

export interface AnswerOptions extends Readers {
  fs: InspectFs & ProcFs;
  /** The root as it is watched now; `null`: it is away. */
  found: () => RootFound | null;
  /** Looks at once whether it is still that root. */
  rootChanged: () => boolean;
  whyAway: () => string;
  walk: () => Promise<void>;
  openFiles: OpenFiles;
}

/**
 * Answers what is asked about a root. Where the root is away, or goes away meanwhile, nothing was found out of any file,
 * and the answer is a refusal.
 */
export class Answers {
  readonly #options: AnswerOptions;

  constructor(options: AnswerOptions) {
    this.#options = options;
  }

  to(request: Request): Promise<unknown> {
    switch (request.type) {
      case 'inspect':
        return this.#whileThere((root) => this.#inspect(request.paths, root));
      case 'probe':
        return this.#whileThere((root) => this.#probe(request.file, root), isFound);
      case 'missing':
        return this.#whileThere((root) => inSlices(this.#missing(request.paths, root)));
      case 'manifest':
        return this.#whileThere((root) => this.#manifest(request.file, root), isFound);
      case 'content':
        return this.#whileThere(async (root) => this.#content(request.file, root), isFound);
      case 'space':
        return this.#whileThere(async (root) => this.#options.space(root.base));
      case 'sweep':
        return this.#whileThere(
          () => this.#options.walk(),
          () => true,
        );
    }
  }

  /** A root that goes away meanwhile makes every file look gone or unreadable; an answer that is `sure` was read before. */
  async #whileThere<T>(work: (root: RootFound) => Promise<T>, sure: (answer: T) => boolean = () => false): Promise<T> {
    const root = this.#options.found();
    if (root === null || this.#options.rootChanged()) throw this.#away();
    const answer = await work(root);
    if (!sure(answer) && (this.#options.found() !== root || this.#options.rootChanged())) throw this.#away();
    return answer;
  }

  async #inspect(paths: PathText[], root: RootFound): Promise<Evidence[]> {
    const { fs, openFiles } = this.#options;
    const evidence = await inSlices(
      inspect(paths, {
        fs,
        proc: fs,
        base: root.base,
        device: root.device,
        remote: root.mount?.remote ?? false,
        uid: process.geteuid?.() ?? 0,
        pid: process.pid,
        openFiles,
      }),
    );
    const stamps = stampsOf(root.mount?.fileSystem);
    return evidence.map((seen) => (seen.stat === null ? seen : { ...seen, stat: trustworthy(seen.stat, stamps) }));
  }

  async #probe(file: FileStat, root: RootFound): Promise<ProbeOutcome> {
    if (!this.#isInside(file, root)) return OUTSIDE;
    const outcome = await this.#options.probe(this.#asItIs(file, root), root.base);
    if (!outcome.ok) return outcome;
    return { ...outcome, stat: trustworthy(outcome.stat, stampsOf(root.mount?.fileSystem)) };
  }

  async #manifest(file: FileStat, root: RootFound): Promise<PackedManifest> {
    if (!this.#isInside(file, root)) return packManifest(OUTSIDE);
    return packManifest(await this.#options.manifest(this.#asItIs(file, root), root.base));
  }

  #content(file: FileStat, root: RootFound): ContentOutcome {
    return this.#isInside(file, root) ? this.#options.content(file, root.base) : OUTSIDE;
  }

  /**
   * A file whose stat came from us without what cannot be trusted, with all of it: who opens the file compares that with
   * what was opened. A file that is another one now is left as it was, so that the difference shows.
   */
  #asItIs(file: FileStat, { base, mount }: RootFound): FileStat {
    const stamps = stampsOf(mount?.fileSystem);
    if (stamps.inodes && stamps.changeTimes) return file;
    try {
      const now = toFileStat(file.path, this.#options.fs.lstatSync(toAbsolute(base, file.path), { bigint: true }));
      return compareSeen(file, trustworthy(now, stamps)).verdict === 'same' ? now : file;
    } catch {
      // Whoever opens it will say what is wrong.
      return file;
    }
  }

  /** What opens a file follows the links above it: whether there are any is looked at right before. */
  #isInside({ path }: FileStat, { base, device }: RootFound): boolean {
    return new InsideRoot({ fs: this.#options.fs, base, device }).seemsToReach(path);
  }

  *#missing(paths: readonly PathText[], { base, device }: RootFound): Steps<PathText[]> {
    const { fs } = this.#options;
    const inside = new InsideRoot({ fs, base, device });
    const missing: PathText[] = [];
    for (const path of paths) {
      try {
        const stat = inside.reaches(path) ? fs.lstatSync(toAbsolute(base, path)) : null;
        if (stat === null || !(stat.isFile() || stat.isDirectory())) missing.push(path);
      } catch (error) {
        if (isMissing(error as NodeJS.ErrnoException)) missing.push(path);
      }
      yield undefined;
    }
    return missing;
  }

  #away(): Error {
    return new Error(this.#options.whyAway());
  }
}

/** A link stands where a folder above the file was, or another file system is mounted there. */
const OUTSIDE = { ok: false, reason: 'unreadable', detail: 'the folder that it was in is not there any more' } as const;

/** What was found out was found on the root that was there. */
function isFound(answer: { ok: boolean }): boolean {
  return answer.ok;
}
