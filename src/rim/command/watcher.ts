import { type ChildProcess, spawn } from 'node:child_process';
import { constants, setPriority } from 'node:os';
import type { Readable } from 'node:stream';
import { setTimeout as sleep } from 'node:timers/promises';
import type { CommandExit } from '../../core/backup/command-port.ts';
import { endGroup, endLeftover, noteGroup, startOf } from './group.ts';
import { LineCutter } from './line-cutter.ts';
import type { FromCommand, ToCommand } from './protocol.ts';

/** What it may print before it floods: reports of a million files take less. */
const MOST_BYTES = 1024 ** 3;
/** Of its standard error the end is kept. */
const ERROR_TEXT = 500;
const LAST_WORDS_MS = 1_000;

/** Watches one program: hands on what it says, and ends its whole group when it is told to, when it floods, and when it ends itself. */
export class Watcher {
  readonly #send: (message: FromCommand) => void;
  readonly #cutter = new LineCutter();
  #child: ChildProcess | null = null;
  #order: Extract<ToCommand, { type: 'run' }> | null = null;
  #errors = '';
  #bytes = 0;
  #isTaking = false;
  #isLeaderGone = false;
  #isOver = false;
  #because: 'ended' | 'flooded' | null = null;

  constructor(send: (message: FromCommand) => void) {
    this.#send = send;
  }

  async take(message: ToCommand): Promise<void> {
    if (message.type === 'run') await this.#run(message);
    else if (message.type === 'end') await this.end(message.because);
    else {
      this.#isTaking = false;
      this.#hand();
    }
  }

  /** Ends the program and all that it started. */
  async end(because: 'ended' | 'flooded'): Promise<void> {
    this.#because ??= because;
    const pid = this.#child?.pid;
    // It may wait for somebody to read what it says.
    this.#child?.stdout?.resume();
    if (pid !== undefined && this.#order !== null) await endGroup(pid, this.#order.graceMs);
  }

  async #run(order: Extract<ToCommand, { type: 'run' }>): Promise<void> {
    this.#order = order;
    await endLeftover(order.note, order.graceMs);
    if (this.#because !== null) return this.#exit({ is: 'ended', errorText: '' });
    const [program = '', ...args] = order.argv;
    setPriority(constants.priority.PRIORITY_BELOW_NORMAL);
    const child = spawn(program, args, {
      ...{ env: order.env, cwd: '/', shell: false, stdio: ['ignore', 'pipe', 'pipe'] },
      // A session and a group of its own: what it starts is ended with it.
      detached: true,
    });
    this.#child = child;
    child.once('error', (error: NodeJS.ErrnoException) => {
      if (child.pid === undefined) this.#exit({ is: 'not-started', code: error.code ?? null, errorText: '' });
    });
    if (child.pid === undefined) return;
    noteGroup(order.note, { pid: child.pid, startedAt: startOf(child.pid) ?? '' });
    child.stdout.on('data', (chunk: Buffer) => this.#hear(chunk));
    child.stderr.on('data', (chunk: Buffer) => {
      this.#errors = `${this.#errors}${chunk.toString('utf8')}`.slice(-ERROR_TEXT);
    });
    child.once('exit', (code, signal) => void this.#ended(code, signal));
  }

  #hear(chunk: Buffer): void {
    this.#bytes += chunk.length;
    if (this.#because !== null) return;
    this.#cutter.add(chunk);
    if (this.#isLeaderGone) return;
    if (this.#bytes > MOST_BYTES) void this.end('flooded');
    this.#child?.stdout?.pause();
    this.#hand();
  }

  /** One part at a time; the program waits when nobody takes what it says. */
  #hand(): void {
    if (this.#isTaking || this.#isLeaderGone) return;
    const { lines, tooLong } = this.#cutter.take();
    if (lines.length === 0 && tooLong === 0) {
      this.#child?.stdout?.resume();
      return;
    }
    this.#isTaking = true;
    this.#send({ type: 'said', lines, tooLong });
  }

  /** Its leader is gone: what it left of its group is ended, and what it had said is read to the end. */
  async #ended(code: number | null, signal: NodeJS.Signals | null): Promise<void> {
    this.#isLeaderGone = true;
    const { pid, stdout } = this.#child ?? {};
    if (pid !== undefined && this.#order !== null) await endGroup(pid, this.#order.graceMs);
    if (stdout != null) await readToEnd(stdout);
    this.#cutter.end();
    this.#send({ type: 'said', ...this.#cutter.take() });
    const errorText = this.#errors.trim();
    if (this.#because !== null) this.#exit({ is: this.#because, errorText });
    else if (signal !== null) this.#exit({ is: 'killed', signal, errorText });
    else this.#exit({ is: 'exited', code: code ?? 0, errorText });
  }

  #exit(exit: CommandExit): void {
    if (this.#isOver) return;
    this.#isOver = true;
    if (this.#order !== null) noteGroup(this.#order.note, null);
    this.#send({ type: 'exit', exit });
  }
}

/** Whoever left the group may hold it open for ever, and has nothing to say. */
async function readToEnd(stdout: Readable): Promise<void> {
  stdout.resume();
  if (!stdout.closed) {
    const closed = new Promise<void>((resolve) => stdout.once('close', () => resolve()));
    await Promise.race([closed, sleep(LAST_WORDS_MS)]);
  }
  stdout.destroy();
}
