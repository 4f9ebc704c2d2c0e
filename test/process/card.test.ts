import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CardSnapshot } from '../../src/core/present/snapshot-cards.ts';
import { type CardImage, cardImage, whyNoCards } from '../rim/card/card-image.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/**
 * The real program beside real cards: exFAT in a loop device, mounted and pulled as a reader's are, copied by cp(1). What is
 * missing is held against what really lies in the two places.
 */
let place: Bench;
let cards: CardImage[];

beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
  cards = [];
});
afterEach(async () => {
  await place.clear();
  for (const card of cards) card.remove();
});

const whyNot = whyNoCards('exfat');
if (whyNot !== null) console.warn(`NOT CHECKED: cards beside the real program. None can be put in here: ${whyNot}`);
const withCard = whyNot === null ? test : test.skip;

/** Takes as they are in the fixtures, on a card under names of its own. */
const TAKES = readdirSync(media).filter((name) => /\.(?:mov|mp4)$/i.test(name));

function newCard(label = 'SALT_A'): CardImage {
  const card = cardImage('exfat', label);
  cards.push(card);
  return card;
}

/** Records takes as a camera does: encodes into its own folder, and a file of the camera's own beside it. */
function recordTakes(card: CardImage, names: readonly string[], folder = '100SALTM'): void {
  card.inCamera((root) => {
    mkdirSync(join(root, 'DCIM', folder), { recursive: true });
    mkdirSync(join(root, 'MISC'), { recursive: true });
    for (const name of names) cpSync(join(media, name), join(root, 'DCIM', folder, name));
    writeFileSync(join(root, 'MISC/INDEX.DAT'), `${names.length}`);
  });
}

function settings(card: CardImage | null, extra = ''): string {
  const file = join(place.folder, 'headroomd.toml');
  const under = card === null ? '/nowhere' : card.under;
  writeFileSync(
    file,
    `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*"\n[arrivals]\nquiet_remote = "2 s"\nstalled_after = "3 s"\n[cards]\nunder = ["${under}"]\n${extra}`,
  );
  return file;
}

const start = (card: CardImage | null, extra = '') => place.start(['--config', settings(card, extra)]);
const cardsOf = (daemon: Running) => daemon.status().cards;
const advisory = (daemon: Running) => daemon.status().advisories.find(({ kind }) => kind === 'card-incomplete');
const listed = () => JSON.parse(place.call('card', '--json').stdout) as CardSnapshot[];
const copied = () => readdirSync(join(place.volume, 'Saltmarsh/SALT_A/DCIM/100SALTM'));

describe('a card', () => {
  withCard(
    'whose copy dies in the middle: exactly the missing takes are named, and it clears when they come',
    async () => {
      const card = newCard();
      recordTakes(card, TAKES);
      const daemon = await start(card);
      card.mount('ro');
      await until('the card is seen', () => cardsOf(daemon).length === 1);
      expect(cardsOf(daemon)[0]).toMatchObject({
        name: 'SALT_A',
        layout: 'DCIM',
        state: 'mounted',
        files: TAKES.length + 1,
        footageFiles: TAKES.length,
        missingFootage: TAKES.length,
        complete: false,
      });
      // Only plugged in: no news.
      expect(daemon.status().advisories).toEqual([]);

      // A copy that goes file by file, and dies between two of them: it leaves nothing unfinished behind.
      const to = join(place.volume, 'Saltmarsh/SALT_A/DCIM/100SALTM');
      const script = `mkdir -p "$2" && for f in "$1"/*; do cp -p "$f" "$2"; sleep 0.2; done`;
      const copy = spawn('sh', ['-c', script, 'sh', join(card.mountPoint, 'DCIM/100SALTM'), to], { stdio: 'ignore' });
      await until('half of it is copied', () => existsSync(to) && readdirSync(to).length >= TAKES.length / 2);
      card.unmount(true);
      await new Promise((resolve) => copy.once('exit', resolve));
      for (const name of copied()) if (statSync(join(to, name)).size === 0) execFileSync('rm', [join(to, name)]);

      const missing = TAKES.filter((name) => !copied().includes(name)).sort();
      expect(missing.length).toBeGreaterThan(0);
      expect(missing.length).toBeLessThan(TAKES.length);
      await until('it is warned of', () => advisory(daemon) !== undefined);
      await until('all that was copied is counted', () => cardsOf(daemon)[0]?.missingFootage === missing.length);
      const warned = advisory(daemon);
      expect(warned).toMatchObject({ severity: 'warning', figures: { footageFiles: TAKES.length } });
      expect(warned?.message).toContain('Card SALT_A (DCIM) was taken out');
      expect(warned?.message).toMatch(/Keep the card/);
      expect(
        listed()[0]
          ?.missing.filter(({ role }) => role === 'footage')
          .map(({ path }) => path),
      ).toEqual(missing.map((name) => `DCIM/100SALTM/${name}`));
      for (const name of missing.slice(0, 5)) expect(warned?.message).toContain(name);
      expect(daemon.status().arrivals.filter(({ state }) => state === 'stalled')).toEqual([]);

      card.mount('ro');
      cpSync(join(card.mountPoint, 'DCIM'), join(place.volume, 'Saltmarsh/SALT_A/DCIM'), {
        recursive: true,
        preserveTimestamps: true,
      });
      await until('it is taken back', () => advisory(daemon) === undefined);
      // The mount table is looked at every other second, and a sidecar may settle after the footage.
      await until('all is there, and it is in', () => {
        const [told] = cardsOf(daemon);
        return told?.complete === true && told.missingFootage === 0 && told.state === 'mounted';
      });
      const said = [place.call('status').stdout, place.call('card').stdout, daemon.log()].join('\n');
      expect(said).not.toMatch(/(?<!Never )\b(?:safe to|may be erased|can be erased|erase it|format it)\b/i);
    },
  );

  withCard('that has left is remembered over a kill, and forgotten only on request', async () => {
    const card = newCard();
    recordTakes(card, TAKES.slice(0, 3));
    const first = await start(card);
    card.mount('ro');
    await until('the card is seen', () => cardsOf(first).length === 1);
    card.unmount();
    cpSync(join(media, TAKES[0] ?? ''), join(place.volume, 'Saltmarsh', TAKES[0] ?? ''), { preserveTimestamps: true });
    await until('it has left', () => cardsOf(first)[0]?.state === 'gone');
    await first.end('SIGKILL');
    // Formatted: nothing but the ledger knows what was on it.
    card.format();

    const second = await start(card);
    await until('it is warned of', () => advisory(second) !== undefined);
    const id = cardsOf(second)[0]?.id ?? '';
    expect(place.call('card', '--drop', id.slice(0, -1))).toMatchObject({ status: 1 });
    expect(place.call('card', '--drop', 'SALT_A').stderr).toContain(id);
    expect(listed()).toHaveLength(1);
    const dropped = place.call('card', '--drop', id);
    expect(dropped).toMatchObject({ status: 0, stderr: '' });
    expect(dropped.stdout).toContain('SALT_A');
    await until('nothing is told of it', () => advisory(second) === undefined && cardsOf(second).length === 0);
    expect(listed()).toEqual([]);
    expect(place.call('card').stdout).toMatch(/No card was seen/);
  });

  withCard('that is formatted and filled anew is another one, and one that is recorded on is the same', async () => {
    const card = newCard();
    recordTakes(card, TAKES.slice(0, 2));
    const daemon = await start(card);
    card.mount('ro');
    await until('the card is seen', () => cardsOf(daemon).length === 1);
    card.unmount();
    await until('it has left', () => cardsOf(daemon)[0]?.state === 'gone');
    recordTakes(card, TAKES.slice(2, 4), '101SALTM');
    card.mount('ro');
    await until('it has grown', () => cardsOf(daemon)[0]?.footageFiles === 4);
    expect(cardsOf(daemon)).toHaveLength(1);
    card.unmount();
    await until('it has left again', () => cardsOf(daemon)[0]?.state === 'gone');
    card.format();
    recordTakes(card, TAKES.slice(4, 6));
    card.mount('ro');
    await until('the new one is seen', () => cardsOf(daemon).length === 2);
    expect(cardsOf(daemon).map(({ state, footageFiles }) => [state, footageFiles])).toEqual([
      ['mounted', 2],
      ['gone', 4],
    ]);
  });

  withCard('is not looked at when that is switched off', async () => {
    const card = newCard();
    recordTakes(card, TAKES.slice(0, 2));
    const daemon = await start(card, 'look = false\n');
    card.mount('ro');
    await sleep(5_000);
    expect(cardsOf(daemon)).toEqual([]);
  });
});

describe('without a card', () => {
  test('a list of checksums that came along tells what is missing', async () => {
    const daemon = await start(null);
    await until('it has looked around', () => daemon.status().volumes[0]?.state === 'live');
    const day = join(place.volume, 'Saltmarsh/Day 3');
    const source = join(place.folder, 'Day 3');
    mkdirSync(source);
    for (const name of TAKES.slice(0, 4)) cpSync(join(media, name), join(source, name));
    // As sha256sum(1) of GNU coreutils writes it.
    const sums = execFileSync('sha256sum', TAKES.slice(0, 4), { cwd: source, encoding: 'utf8' });
    mkdirSync(day);
    for (const name of TAKES.slice(0, 3)) cpSync(join(source, name), join(day, name));
    writeFileSync(join(day, 'day3.sha256'), sums);
    const lost = TAKES[3] ?? '';
    const differs = () => daemon.status().advisories.find(({ kind }) => kind === 'list-differs');
    await until('it is warned of', () => differs() !== undefined, 60);
    expect(differs()?.message).toContain(lost);
    expect(advisory(daemon)).toBeUndefined();
    expect(cardsOf(daemon)[0]).toMatchObject({
      source: 'manifest',
      state: 'manifest',
      volume: 'stripe',
      place: 'Saltmarsh/Day 3/day3.sha256',
      files: 4,
      missingFootage: 1,
    });
    cpSync(join(source, lost), join(day, lost));
    await until('it is taken back', () => differs() === undefined, 60);
    expect(cardsOf(daemon)[0]).toMatchObject({ complete: true });
    await until('contents were compared', () => cardsOf(daemon)[0]?.check?.intact === 4, 60);
  });

  test('a card folder that arrives is said to have come unseen; what lay there before is not', async () => {
    const old = join(place.volume, 'Saltmarsh/Old/DCIM/100SALTM');
    mkdirSync(old, { recursive: true });
    cpSync(join(media, TAKES[0] ?? ''), join(old, TAKES[0] ?? ''));
    const daemon = await start(null);
    await until('it has looked around', () => daemon.status().volumes[0]?.state === 'live');
    const fresh = join(place.volume, 'Saltmarsh/SALT_B/DCIM/100SALTM');
    mkdirSync(fresh, { recursive: true });
    cpSync(join(media, TAKES[1] ?? ''), join(fresh, TAKES[1] ?? ''));
    await until('it is said', () => daemon.status().unseen.length > 0);
    expect(daemon.status().unseen).toMatchObject([{ volume: 'stripe', path: 'Saltmarsh/SALT_B', layout: 'DCIM' }]);
    expect(place.call('status').stdout).toMatch(/The card itself was never\s+read: Saltmarsh\/SALT_B/);
    execFileSync('rm', ['-r', join(place.volume, 'Saltmarsh/SALT_B')]);
    await until('it is gone', () => daemon.status().unseen.length === 0, 60);
  });
});

test('what a card is known by is not changed over the port of the page, whoever asks', async () => {
  const daemon = await start(null);
  const { page } = daemon.status();
  const url = new URL(page ?? '');
  const statusFrom = async (headers: Record<string, string>) => {
    const entered = await fetch(page ?? '', { redirect: 'manual' });
    const cookie = entered.headers.getSetCookie()[0]?.split(';')[0] ?? '';
    const more = { cookie, 'content-type': 'application/json', ...headers };
    return (await fetch(`${url.origin}/api/cards/drop`, { method: 'POST', headers: more, body: '{"id":"x"}' })).status;
  };
  expect(await statusFrom({})).toBe(403);
  expect(await statusFrom({ origin: url.origin })).toBe(404);
});
