import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';

const WORDS = 'reading it ended the process that reads twice; it is not read again until it changes';

/**
 * Finds the file that takes the whole process along when it is read. Whatever was being read when a process ended is suspect,
 * and is read again alone: if the process ends once more, it was that file. A process that hangs says nothing about a file:
 * there it is the drive.
 */
export class ProbeGuard {
  readonly #underWay = new Map<string, number>();
  readonly #suspects = new Set<string>();
  readonly #banned = new Set<string>();
  #suspectsWaiting = 0;
  #waiting: (() => void)[] = [];

  /** Reads a file when its turn has come. Rejects as `read` does. */
  async ask(file: FileStat, read: () => Promise<ProbeOutcome>): Promise<ProbeOutcome> {
    const key = keyOf(file);
    await this.#begin(key);
    try {
      if (this.#banned.has(key)) return { ok: false, reason: 'probe-failed', detail: WORDS };
      const outcome = await read();
      this.#suspects.delete(key);
      return outcome;
    } finally {
      const times = (this.#underWay.get(key) ?? 1) - 1;
      if (times > 0) this.#underWay.set(key, times);
      else this.#underWay.delete(key);
      this.#goOn();
    }
  }

  /** The process has ended by itself; to be told before what was under way is refused. */
  processEnded(): void {
    const [only, another] = this.#underWay.keys();
    if (only !== undefined && another === undefined && this.#suspects.delete(only)) this.#banned.add(only);
    else for (const key of this.#underWay.keys()) this.#suspects.add(key);
  }

  /**
   * Waits for its turn and takes it, in one step. A suspect waits until nothing else is under way; while one waits or is read,
   * so does everything else.
   */
  async #begin(key: string): Promise<void> {
    if (this.#suspects.has(key)) {
      this.#suspectsWaiting += 1;
      while (this.#suspects.has(key) && this.#underWay.size > 0) await this.#change();
      this.#suspectsWaiting -= 1;
    } else while (this.#suspectsWaiting > 0 || this.#isSuspectRead()) await this.#change();
    this.#underWay.set(key, (this.#underWay.get(key) ?? 0) + 1);
  }

  #isSuspectRead(): boolean {
    for (const key of this.#underWay.keys()) if (this.#suspects.has(key)) return true;
    return false;
  }

  #change(): Promise<void> {
    return new Promise((resolve) => this.#waiting.push(resolve));
  }

  #goOn(): void {
    for (const resolve of this.#waiting.splice(0)) resolve();
  }
}

/** The same content, as far as can be told without reading it. */
function keyOf({ dev, ino, size, mtimeNs }: FileStat): string {
  return `${dev} ${ino} ${size} ${mtimeNs}`;
}
