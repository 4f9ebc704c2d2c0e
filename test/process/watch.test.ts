import { spawn } from 'node:child_process';
import { cpSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { Terminal } from '../core/present/terminal.ts';
import { found } from './asking.ts';
import { type Bench, bench, media, program } from './headroomd.ts';
import { type OnTerminal, onTerminal, whyNoTerminal } from './on-terminal.ts';

const why = whyNoTerminal();
if (why !== null) console.warn(`NOT CHECKED: status --watch on a terminal: ${why}`);

const ENTER = '\x1b[?1049h\x1b[?25l';
const LEAVE = '\x1b[?25h\x1b[?1049l';

let place: Bench;
const shown: OnTerminal[] = [];
beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
});
afterEach(async () => {
  for (const one of shown.splice(0)) one.clear();
  await place.clear();
});

const clip = (name: string) => cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Saltmarsh', name));

describe.skipIf(why !== null)('status --watch on a terminal', () => {
  function watch(size = { columns: 80, rows: 24 }, env: Record<string, string> = {}): OnTerminal {
    const one = onTerminal([program, 'status', '--watch', '--state', place.state], size, env);
    shown.push(one);
    return one;
  }

  /** The newest whole frame, as a terminal of this size shows it. */
  function screen(one: OnTerminal, columns: number, rows: number): string[] {
    const frames = one.written().split('\x1b[H');
    const terminal = new Terminal(columns, rows);
    terminal.write(`\x1b[H${frames.at(-1)?.replace(LEAVE, '')}`);
    return terminal.lines();
  }

  const shows = (one: OnTerminal, text: RegExp, columns = 80, rows = 24) =>
    found(`the screen shows ${text}`, async () => {
      const lines = screen(one, columns, rows);
      return text.test(lines.join('\n')) ? lines : null;
    });

  test('follows, fits whatever size the window has, outlives the daemon, and leaves the terminal as it was', async () => {
    let daemon = await place.start();
    const one = watch({ columns: 80, rows: 60 });
    await shows(one, /^headroomd 0\.1\.0, [\s\S]*Projects:/, 80, 60);
    clip('A001.mov');
    await shows(one, /Saltmarsh \(stripe\): .* 1 clip,/, 80, 60);
    expect(one.written().startsWith(ENTER)).toBe(true);
    // Nothing is erased before it is written, and nothing scrolls.
    expect(one.written()).not.toContain('\x1b[2J');

    one.fresh();
    one.resize(40, 20);
    const small = await shows(one, /make the window/, 40, 20);
    expect(small[0]).toMatch(/^headroomd 0\.1\.0, /);
    for (const frame of one.fresh().split('\x1b[H').slice(1))
      expect(frame.split('\r\n').length, 'rows of a frame').toBeLessThanOrEqual(60);
    one.resize(80, 24);

    await daemon.end('SIGKILL');
    const without = await shows(one, /no daemon runs on/);
    expect(without.join(' ')).toMatch(/It\s+is\s+waited\s+for\.\s+headroomd 0\.1\.0,/);
    expect(without.join(' ')).toMatch(/OLD: stored \d+ s ago by a daemon that no longer runs/);
    daemon = await place.start();
    expect((await shows(one, /^headroomd 0\.1\.0, /)).join()).not.toContain('OLD');

    one.type('\x03');
    expect(await one.ended).toEqual({ code: 0, settings: 'cooked' });
    expect(one.written().endsWith(LEAVE)).toBe(true);
    expect(await daemon.end()).toBe(0);
  });

  test.each(['SIGTERM', 'SIGHUP'] as const)(
    '%s ends it well, and so does a daemon that gives no answer',
    async (signal) => {
      const daemon = await place.start();
      const one = watch();
      await shows(one, /Projects:/);
      process.kill(daemon.child.pid ?? 0, 'SIGSTOP');
      await sleep(1500);
      process.kill(one.pid(), signal);
      expect(await one.ended).toEqual({ code: 0, settings: 'cooked' });
      expect(one.written().endsWith(LEAVE)).toBe(true);
      process.kill(daemon.child.pid ?? 0, 'SIGCONT');
    },
  );

  test('put aside it gives the screen back, and takes it again when it goes on', async () => {
    await place.start();
    const one = watch();
    await shows(one, /Projects:/);
    process.kill(one.pid(), 'SIGTSTP');
    await found('the screen is given back', async () => (one.written().endsWith(LEAVE) ? true : null));
    one.fresh();
    process.kill(one.pid(), 'SIGCONT');
    await found('it is taken again', async () => (one.fresh().startsWith(ENTER) ? true : null));
  });

  test('NO_COLOR and a dumb terminal are honoured', async () => {
    await (await place.start()).end();
    const plain = watch({ columns: 80, rows: 24 }, { NO_COLOR: '1' });
    await shows(plain, /^OLD: stored/m);
    expect(plain.written()).not.toContain('\x1b[1m');
    const bold = watch();
    await shows(bold, /^OLD: stored/m);
    expect(bold.written()).toContain('\x1b[1mOLD\x1b[m: stored');
    const dumb = watch({ columns: 80, rows: 24 }, { TERM: 'dumb' });
    await found('it tells', async () => (dumb.written().includes('Projects:') ? true : null));
    dumb.type('\x03');
    expect((await dumb.ended).code).toBe(0);
    expect(dumb.written()).not.toContain('\x1b');
  });
});

test('in a pipe it is a screen for each change with an empty line behind each, or a snapshot a line', async () => {
  const daemon = await place.start();
  const following = (...more: string[]) => {
    const child = spawn(program, ['status', '--watch', '--state', place.state, ...more]);
    let text = '';
    child.stdout.setEncoding('utf8').on('data', (some: string) => {
      text += some;
    });
    return { child, text: () => text };
  };
  const plain = following();
  const json = following('--json');
  try {
    const told = () => plain.text().includes('Projects:') && json.text().includes('\n');
    await found('both tell', async () => (told() ? true : null));
    clip('A001.mov');
    await found('both tell of the clip', async () =>
      plain.text().includes('1 clip,') && json.text().includes('"clips":1') ? true : null,
    );
    await daemon.end();
    await found('the end is told', async () => (/It\s+is\s+waited\s+for\./.test(plain.text()) ? true : null));
  } finally {
    plain.child.kill('SIGTERM');
    json.child.kill('SIGTERM');
  }
  expect(plain.text()).not.toContain('\x1b');
  const screens = plain.text().split(/\n\n(?=headroomd)/);
  expect(screens.length).toBeGreaterThan(2);
  expect(new Set(screens.map((one) => one.slice(one.indexOf('\n')))).size).toBe(screens.length);
  const lines = json.text().trimEnd().split('\n');
  expect(lines.map((line) => JSON.parse(line).version)).toEqual(lines.map(() => '0.1.0'));
  expect(lines.length).toBeLessThan(60);
});

test('whoever reads may go: that is no defect', async () => {
  await place.start();
  const child = spawn('bash', ['-c', `"${program}" status --watch --state "${place.state}" | head -n 1`]);
  let said = '';
  child.stderr.on('data', (some) => {
    said += some;
  });
  clip('A001.mov');
  await new Promise((resolve) => child.once('close', resolve));
  expect(said).toBe('');
});
