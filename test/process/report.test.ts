import { cpSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Report } from '../../src/core/present/report.ts';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type MailServer, mailServer } from '../rim/notify/mail-server.ts';
import { type Bench, bench, media, until } from './headroomd.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: reports by the whole program: ${why}`);

const ZONE = 'Europe/Rome';
const env = { TZ: ZONE };

describe.skipIf(why !== null)('the report by the program as it is run', () => {
  let place: Bench;
  let drive: ShelfVolume;
  let post: MailServer;
  beforeEach(async () => {
    place = bench();
    drive = shelfVolume('ext4', 48);
    post = await mailServer({ disabledCommands: ['AUTH', 'STARTTLS'] });
    mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
  });
  afterEach(async () => {
    await place.clear();
    drive.remove();
    await post.close();
  });

  /** The first whole minute that is at least so many seconds ahead, as the clocks of the place show it. */
  function minuteAhead(seconds: number): { report: string; at: number } {
    const at = Math.ceil((Date.now() + seconds * 1000) / 60_000) * 60_000;
    const shown = Temporal.Instant.fromEpochMilliseconds(at).toZonedDateTimeISO(ZONE).toPlainTime();
    return { report: shown.toString().slice(0, 5), at };
  }

  function configure(report: string): string[] {
    const config = join(place.folder, 'headroomd.toml');
    writeFileSync(
      config,
      `[cards]
look = false

[[volume]]
name = "stripe"
path = "${place.volume}"

[[shelf]]
name = "shelf-a"
path = "${drive.mountPoint}"

[[backup]]
from = "stripe"
to = ["shelf-a"]

[[notify]]
kind = "mail"
severity = "critical"
host = "127.0.0.1"
port = ${post.port}
security = "none"
from = "headroomd@example.org"
to = ["edit@example.org"]
report = "${report}"
`,
    );
    return ['--config', config];
  }

  const reports = () => post.read().filter(({ subject }) => subject.startsWith('Report'));

  test('what came and was backed up is told by mail at its hour, once, and by status --report', async () => {
    drive.mount();
    const { report, at } = minuteAhead(60);
    const args = configure(report);
    const daemon = await place.start(args, env);
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Saltmarsh', 'saltmarsh-a.mov'));
    await until('the clip is ready', () => daemon.status().projects[0]?.clips === 1);
    place.call('backup', 'now');
    await until('it is copied', () => daemon.status().volumes[0]?.safety.exposedBytes === 0);
    const before = JSON.parse(place.call('status', '--report', '--json').stdout) as Report;
    expect(before).toMatchObject({ basis: 'last-day', verdict: { copies: 'all' } });
    expect(before.arrived).toMatchObject([{ volume: 'stripe', project: 'Saltmarsh', clips: 1, notDecoded: 0 }]);
    const [bytes] = before.arrived.map((one) => one.bytes);
    expect(before.copies).toMatchObject([{ shelf: 'shelf-a', isNew: true, state: 'good', files: 1, bytes }]);
    expect(before.runs).toMatchObject([{ to: 'shelf-a', state: 'done', cause: 'command', files: 1, verifiedFiles: 1 }]);

    await until('the mail is there', () => reports().length > 0, 150);
    expect(Date.now()).toBeGreaterThanOrEqual(at);
    const [mail] = reports();
    expect(mail?.subject).toBe('Report: everything that arrived has its copies');
    expect(mail?.text).toMatch(/^Everything that arrived has its copies\.\n\nThis tells of /);
    expect(mail?.text).toMatch(/\n {2}Saltmarsh \(stripe\): 1 clip, /);
    expect(Math.max(...(mail?.text ?? '').split('\n').map((line) => line.length))).toBeLessThanOrEqual(76);

    // Started again on the same day, and looked at once more: it was sent.
    await daemon.end();
    const next = await place.start(args, env);
    await until('it was looked at', () => next.status().volumes[0]?.state === 'live');
    await sleep(2_000);
    expect(reports()).toHaveLength(1);
    const text = place.call('status', '--report').stdout;
    expect(text).toMatch(/^Everything that arrived has its copies\.\n/);
    expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
    await next.end();
    expect(place.call('status', '--report')).toMatchObject({ status: 3, stdout: '' });
  }, 300_000);

  test('killed around its hour and while it is sent: there is one, which may come twice under one Message-ID', async () => {
    const { report, at } = minuteAhead(10);
    const args = configure(report);
    post.answer('never');
    // Known before the hour: a channel has its first report at the next one.
    const first = await place.start(args, env);
    await first.end('SIGKILL');
    await sleep(Math.max(0, at - Date.now() - 1_500));
    for (const ms of [1_500, 0, 300]) {
      const daemon = await place.start(args, env);
      await sleep(ms);
      await daemon.end('SIGKILL');
    }
    const inFlight = await place.start(args, env);
    await until('it is in flight', () => reports().length > 0, 30);
    await inFlight.end('SIGKILL');
    post.answer('takes');
    const before = reports().length;
    const last = await place.start(args, env);
    await until('it comes again', () => reports().length > before, 60);
    await last.end();
    const again = await place.start(args, env);
    await sleep(3_000);
    await again.end();
    expect(reports().length).toBe(before + 1);
    expect(new Set(reports().map(({ id }) => id)).size).toBe(1);
    expect(new Set(reports().map(({ text }) => text)).size).toBe(1);
  }, 300_000);
});
