/**
 * What a terminal shows of what it is sent: enough of ECMA-48 (5th edition: CUP 8.3.21, ED 8.3.39, EL 8.3.41, SGR 8.3.117), and the
 * cursor that stays in the last column until the next character, as in DEC's VT100 (autowrap). Letters are one column wide.
 */
export class Terminal {
  readonly #width: number;
  #cells: string[][];
  #row = 0;
  #column = 0;

  constructor(width: number, height: number) {
    this.#width = width;
    this.#cells = Array.from({ length: height }, () => this.#blank());
  }

  write(text: string): void {
    // biome-ignore lint/suspicious/noControlCharactersInRegex: control sequences are what is looked for.
    for (const [part] of text.matchAll(/\x1b\[[0-9;?]*[A-Za-z]|./gsu)) this.#take(part);
  }

  lines(): string[] {
    return this.#cells.map((cells) => cells.join('').trimEnd());
  }

  #take(part: string): void {
    if (part === '\r') this.#column = 0;
    else if (part === '\n') this.#down();
    else if (part === '\x1b[H') [this.#row, this.#column] = [0, 0];
    else if (part === '\x1b[K') this.#erase(this.#row);
    else if (part === '\x1b[J') for (let row = this.#row; row < this.#cells.length; row += 1) this.#erase(row);
    else if (part.startsWith('\x1b')) {
      // Private modes (DEC, xterm) are which screen, and whether there is a cursor: of no matter here.
      if (!part.endsWith('m') && !part.startsWith('\x1b[?'))
        throw new Error(`this terminal does not know ${JSON.stringify(part)}`);
    } else this.#put(part);
  }

  #put(character: string): void {
    if (this.#column === this.#width) {
      this.#column = 0;
      this.#down();
    }
    const cells = this.#cells[this.#row];
    if (cells !== undefined) cells[this.#column] = character;
    this.#column += 1;
  }

  /** From the cursor on; while it waits behind the last column that is the last cell. */
  #erase(row: number): void {
    const from = row === this.#row ? Math.min(this.#column, this.#width - 1) : 0;
    this.#cells[row]?.fill(' ', from);
  }

  #down(): void {
    if (this.#row < this.#cells.length - 1) this.#row += 1;
    else this.#cells = [...this.#cells.slice(1), this.#blank()];
  }

  #blank(): string[] {
    return Array.from({ length: this.#width }, () => ' ');
  }
}
