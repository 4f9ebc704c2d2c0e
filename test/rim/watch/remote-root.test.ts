import { spawn } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import type { Clock } from '../../../src/core/ports.ts';
import type { RootEvent } from '../../../src/core/root-port.ts';
import type { KnownMount } from '../../../src/rim/watch/drive.ts';
import type { FromChild, ToChild } from '../../../src/rim/watch/protocol.ts';
import { type RemoteRootOptions, remoteRoot } from '../../../src/rim/watch/remote-root.ts';
import type { RootProcess } from '../../../src/rim/watch/root-process.ts';
import { silent, temporaryFolder, watched } from './watched.ts';

/** A clock that only moves when told. */
function fakeClock(): Clock & { advance(ms: number): void } {
  let now = 0;
  const timers = new Set<{ at: number; run: () => void }>();
  return {
    now: () => now,
    ticks: () => now,
    after(ms, run) {
      const timer = { at: now + ms, run };
      timers.add(timer);
      return () => void timers.delete(timer);
    },
    advance(ms) {
      const end = now + ms;
      for (;;) {
        const [next] = [...timers].filter(({ at }) => at <= end).sort((a, b) => a.at - b.at);
        if (next === undefined) break;
        timers.delete(next);
        now = Math.max(now, next.at);
        next.run();
      }
      now = end;
    },
  };
}

/** Processes that do what the test says, in the order in which they were started. */
function stage(over: Partial<RemoteRootOptions> = {}) {
  const clock = fakeClock();
  const children: FakeChild[] = [];
  const events: RootEvent[] = [];
  const root = remoteRoot({
    root: '/media/stripe',
    settings: { sweepEvery: 10, fullSweepEvery: 900 },
    entry: 'entry.ts',
    clock,
    log: silent,
    startProcess: (_entry, argument) => {
      const child = new FakeChild(argument);
      children.push(child);
      return child;
    },
    ...over,
  });
  root.start((event) => void events.push(event));
  const states = () => events.flatMap((event) => (event.type === 'state' ? [event.state] : []));
  return { clock, children, events, root, states, last: () => children.at(-1) as FakeChild };
}

class FakeChild implements RootProcess {
  readonly pid = 4242;
  readonly argument: string;
  readonly sent: ToChild[] = [];
  abandoned = false;
  answersPings = true;
  #onMessage: (message: FromChild) => void = () => {};
  readonly #onExit: ((how: string) => void)[] = [];

  constructor(argument: string) {
    this.argument = argument;
  }

  send(message: ToChild): void {
    this.sent.push(message);
    if (message.type === 'ping' && this.answersPings) this.say({ type: 'pong' });
    if (message.type === 'stop' && this.answersPings) this.exit('ended with code 0');
  }

  onMessage(handler: (message: FromChild) => void): void {
    this.#onMessage = handler;
  }

  onClose(): void {}

  onExit(handler: (how: string) => void): void {
    this.#onExit.push(handler);
  }

  abandon(): void {
    this.abandoned = true;
  }

  say(message: FromChild): void {
    this.#onMessage(message);
  }

  exit(how: string): void {
    for (const handler of this.#onExit) handler(how);
  }
}

describe('a process that gives no sign of life', () => {
  test('is given up after 10 s: requests are refused, the state says so, another is tried', async () => {
    const { clock, children, root, states, last } = stage();
    last().say({ type: 'event', event: { type: 'state', state: 'live', detail: null } });
    clock.advance(60_000);
    expect(children).toHaveLength(1);
    last().answersPings = false;
    const pending = root.inspect(['a.mov']);
    clock.advance(9000);
    expect(states()).toEqual(['starting', 'live']);
    clock.advance(5000);
    await expect(pending).rejects.toThrow('/media/stripe does not answer');
    expect(states()).toEqual(['starting', 'live', 'hung']);
    expect(children[0]?.abandoned).toBe(true);
    expect(children).toHaveLength(2);
    last().say({ type: 'event', event: { type: 'state', state: 'live', detail: null } });
    expect(states().at(-1)).toBe('live');
  });

  test('requests while there is no process are refused at once', async () => {
    const { clock, root, last } = stage();
    last().answersPings = false;
    clock.advance(10_200);
    await expect(root.space()).rejects.toThrow('/media/stripe cannot be reached');
  });

  test('what a given-up process still says is not heard', () => {
    const { clock, events, children, last } = stage();
    last().answersPings = false;
    clock.advance(13_000);
    const before = events.length;
    children[0]?.say({ type: 'event', event: { type: 'gone', paths: ['a.mov'] } });
    expect(events).toHaveLength(before);
  });

  test('on a mount that stays dead no more than two are left hanging; the first that dies lets another try', () => {
    const { clock, children } = stage();
    for (let minute = 0; minute < 30; minute += 1) {
      for (const child of children) child.answersPings = false;
      clock.advance(60_000);
    }
    expect(children).toHaveLength(2);
    children[0]?.exit('was ended by SIGKILL');
    clock.advance(61_000);
    expect(children).toHaveLength(3);
  });

  test('when we ourselves stood still, it is asked again first', () => {
    const timers: { ms: number; run: () => void }[] = [];
    let now = 0;
    const clock: Clock = {
      now: () => now,
      ticks: () => now,
      after: (ms, run) => {
        timers.push({ ms, run });
        return () => {};
      },
    };
    const { children, states } = stage({ clock });
    now = 60_000;
    timers[0]?.run();
    expect(states()).toEqual(['starting']);
    expect(children[0]?.abandoned).toBe(false);
  });
});

describe('a process that ends', () => {
  test('is started again, later and later, and sooner when it had lived', async () => {
    const { clock, children, root, last } = stage();
    const pending = root.sweep();
    last().exit('was ended by SIGSEGV');
    await expect(pending).rejects.toThrow('SIGSEGV');
    const pauses: number[] = [];
    for (let round = 0; round < 9; round += 1) {
      const before = children.length;
      let waited = 0;
      for (; children.length === before; waited += 250) clock.advance(250);
      pauses.push(waited);
      last().exit('ended with code 1');
    }
    expect(pauses).toEqual([500, 1000, 2000, 4000, 8000, 16_000, 32_000, 60_000, 60_000]);
    clock.advance(60_000);
    clock.advance(61_000);
    const before = children.length;
    last().exit('ended with code 1');
    clock.advance(500);
    expect(children).toHaveLength(before + 1);
  });

  test('its successor knows where the root was mounted', () => {
    const kept: KnownMount[] = [];
    const { clock, children, last } = stage({ onMounted: (known) => kept.push(known) });
    expect(JSON.parse(children[0]?.argument ?? '')).toMatchObject({
      root: '/media/stripe',
      mountPoint: null,
      drive: null,
    });
    const known = { mountPoint: '/media/stripe', drive: { uuid: '1A2B-3C4D', born: null, source: null } };
    last().say({ type: 'mounted', ...known });
    last().exit('ended with code 1');
    clock.advance(1000);
    expect(JSON.parse(children[1]?.argument ?? '')).toMatchObject(known);
    expect(kept).toEqual([known]);
  });
});

describe('requests and events', () => {
  test('answers find their questions in any order', async () => {
    const { root, last } = stage();
    const [one, two] = [root.space(), root.sweep()];
    const ids = last().sent.flatMap((message) => ('id' in message ? [message.id] : []));
    last().say({ type: 'answer', id: ids[1] ?? 0, value: undefined });
    last().say({ type: 'failed', id: ids[0] ?? 0, message: 'the folder does not exist' });
    await expect(two).resolves.toBeUndefined();
    await expect(one).rejects.toThrow('the folder does not exist');
  });

  test('a listing counts as taken when the listener is through with it', async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    const child = new FakeChild('');
    const root = remoteRoot({
      root: '/r',
      settings: { sweepEvery: 1, fullSweepEvery: 1 },
      entry: '',
      clock: fakeClock(),
      log: silent,
      startProcess: () => child,
    });
    root.start((event) => (event.type === 'listing' ? promise : undefined));
    const empty = { names: '', numbers: new Float64Array(0), times: new BigInt64Array(0), ids: new BigUint64Array(0) };
    child.say({ type: 'event', event: { type: 'listing', dir: '', files: empty, dirs: [], unreadable: [] } });
    await Promise.resolve();
    const taken = () => child.sent.filter(({ type }) => type === 'taken').length;
    expect(taken()).toBe(0);
    resolve();
    await new Promise((done) => setImmediate(done));
    expect(taken()).toBe(1);
  });
});

test('every sign of life is told, of the process that serves the root now alone', () => {
  const children: FakeChild[] = [];
  let heard = 0;
  const clock = fakeClock();
  const root = remoteRoot({
    ...{ root: '/r', settings: { sweepEvery: 1, fullSweepEvery: 1 }, entry: '', clock, log: silent },
    heard: () => {
      heard += 1;
    },
    startProcess: () => {
      const child = new FakeChild('');
      children.push(child);
      return child;
    },
  });
  root.start(() => {});
  const [first] = children;
  const before = heard;
  first?.say({ type: 'pong' });
  first?.say({ type: 'event', event: { type: 'gone', paths: ['x'] } });
  expect(heard - before).toBe(2);
  if (first !== undefined) first.answersPings = false;
  clock.advance(60_000);
  expect(children.length).toBeGreaterThan(1);
  const after = heard;
  first?.say({ type: 'pong' });
  expect(heard).toBe(after);
});

describe('stop', () => {
  test('within two seconds when the process hangs, refusing what was asked', async () => {
    const { clock, root, last, events } = stage();
    last().answersPings = false;
    const pending = root.probe({} as never);
    const stopped = root.stop();
    await expect(pending).rejects.toThrow('stopping');
    clock.advance(2000);
    await stopped;
    expect(last().abandoned).toBe(true);
    const before = events.length;
    last().say({ type: 'event', event: { type: 'gone', paths: ['x'] } });
    clock.advance(600_000);
    expect(events).toHaveLength(before);
  });

  test('before the start, and twice', async () => {
    const { root } = stage();
    await root.stop();
    await root.stop();
    await expect(root.space()).rejects.toThrow('cannot be reached');
  });
});

describe('real processes', () => {
  test('stopped in its tracks: hung, given up, and another takes over from the beginning', async () => {
    const w = await watched({ hungAfter: 1 });
    try {
      writeFileSync(join(w.folder, 'a.mov'), 'x');
      const first = w.root.pid ?? 0;
      process.kill(first, 'SIGSTOP');
      const asked = w.root.space();
      await expect(asked).rejects.toThrow('does not answer');
      expect(w.picture.state).toBe('hung');
      const swept = w.picture.count('swept');
      await w.picture.until('another sweep', () => w.picture.count('swept') > swept, 8000);
      expect(w.picture.state).toBe('live');
      expect(w.root.pid).not.toBe(first);
      expect(w.picture.paths()).toEqual(['a.mov']);
    } finally {
      await w.end();
    }
  });

  test('killed: started again, with a full sweep', async () => {
    const w = await watched();
    try {
      process.kill(w.root.pid ?? 0, 'SIGKILL');
      await w.picture.until('starting', () => w.picture.state === 'starting', 3000);
      const swept = w.picture.count('swept');
      await w.picture.until('another sweep', () => w.picture.count('swept') > swept, 8000);
    } finally {
      await w.end();
    }
  });

  test('stop within two seconds, hung or not', async () => {
    for (const hang of [false, true]) {
      const w = await watched();
      if (hang) process.kill(w.root.pid ?? 0, 'SIGSTOP');
      const begun = performance.now();
      await w.root.stop();
      expect(performance.now() - begun).toBeLessThan(2000);
      rmSync(w.folder, { recursive: true });
    }
  });

  test('ends when its parent is killed', async () => {
    const folder = temporaryFolder();
    mkdirSync(join(folder, 'x'));
    const parent = spawn(process.execPath, [fileURLToPath(new URL('./parent-entry.ts', import.meta.url)), folder], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const child = await new Promise<number>((resolve) => parent.stdout.once('data', (data) => resolve(Number(data))));
    expect(isAlive(child)).toBe(true);
    parent.kill('SIGKILL');
    const end = performance.now() + 5000;
    while (isAlive(child) && performance.now() < end) await new Promise((resolve) => setTimeout(resolve, 50));
    expect(isAlive(child)).toBe(false);
    rmSync(folder, { recursive: true });
  });

  test('an entry that fails at once: its words are in the log', async () => {
    const logged: string[] = [];
    const log = { ...silent, error: (_: object, message: string) => void logged.push(message) };
    const w = await watched({ entry: '/no/such/entry.ts', log }, false);
    await w.picture.until('told', () => logged.length > 0, 5000);
    await w.end();
    expect(logged[0]).toMatch(/ended with code 1.*Cannot find module/s);
  });
});

function isAlive(pid: number): boolean {
  try {
    return !/^State:\s*[ZX]/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'));
  } catch {
    return false;
  }
}

test('a file that ends the process twice when it is read is not read a third time', async () => {
  const { clock, root, last } = stage();
  const file = { path: 'a.mov', size: 5, allocated: 4096, mtimeNs: 1n, ctimeNs: 1n, dev: 1n, ino: 7n, nlink: 1 };
  const probe = () => root.probe(file).catch((error: Error) => error.message);
  for (const restartAfter of [500, 1000]) {
    const asked = probe();
    await new Promise(setImmediate);
    last().exit('was ended by SIGABRT');
    expect(await asked).toBe('the process for /media/stripe was ended by SIGABRT');
    clock.advance(restartAfter);
  }
  expect(await probe()).toMatchObject({ ok: false, reason: 'probe-failed' });
  expect(last().sent.filter(({ type }) => type === 'probe')).toEqual([]);
});
