/** A line that is longer is no report. */
const LONGEST_LINE = 65_536;
const LINE_FEED = 0x0a;

/** Cuts what comes into lines; of one that is too long nothing is kept. Blank lines are none. */
export class LineCutter {
  #part: Buffer[] = [];
  #length = 0;
  #lines: Uint8Array[] = [];
  #tooLong = 0;
  #isSkipping = false;

  add(chunk: Buffer): void {
    let from = 0;
    for (let at = chunk.indexOf(LINE_FEED); at >= 0; at = chunk.indexOf(LINE_FEED, from)) {
      this.#keep(chunk.subarray(from, at));
      this.#endLine();
      from = at + 1;
    }
    this.#keep(chunk.subarray(from));
  }

  /** The last line may have no end. */
  end(): void {
    this.#endLine();
  }

  /** What there is so far; it is asked for once. */
  take(): { lines: Uint8Array[]; tooLong: number } {
    const taken = { lines: this.#lines, tooLong: this.#tooLong };
    this.#lines = [];
    this.#tooLong = 0;
    return taken;
  }

  #keep(bytes: Buffer): void {
    if (this.#isSkipping || bytes.length === 0) return;
    this.#length += bytes.length;
    if (this.#length <= LONGEST_LINE) {
      this.#part.push(bytes);
      return;
    }
    this.#isSkipping = true;
    this.#part = [];
  }

  #endLine(): void {
    if (this.#isSkipping) this.#tooLong += 1;
    else if (this.#length > 0) this.#lines.push(new Uint8Array(Buffer.concat(this.#part)));
    this.#part = [];
    this.#length = 0;
    this.#isSkipping = false;
  }
}
