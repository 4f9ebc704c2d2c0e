import { cpSync, mkdirSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { userInfo } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type CardImage, cardImage, whyNoCards } from '../rim/card/card-image.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/** The real program beside a real card and a real shelf: what a person says of a card, and what is stated of it. */
const whyNot = whyNoCards('exfat') ?? whyNoShelf('ext4');
if (whyNot !== null) console.warn(`NOT CHECKED: kept cards beside the real program: ${whyNot}`);

const TAKES = ['tidewater-a.mov', 'tidewater-b.mov', 'tidewater-c.mov'];
const FOLDER = 'DCIM/100SALTM';

describe.skipIf(whyNot !== null)('a card that is said to be kept', () => {
  let place: Bench;
  let card: CardImage;
  let drive: ShelfVolume;
  beforeEach(() => {
    place = bench();
    mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
    drive = shelfVolume('ext4', 48);
    card = cardImage('exfat', 'SALT_A');
    card.inCamera((root) => {
      mkdirSync(join(root, FOLDER), { recursive: true });
      for (const name of TAKES) cpSync(join(media, name), join(root, FOLDER, name));
    });
  });
  afterEach(async () => {
    await place.clear();
    card.remove();
    drive.remove();
  });

  function start(): Promise<Running> {
    const file = join(place.folder, 'headroomd.toml');
    writeFileSync(
      file,
      `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*"\n[arrivals]\nquiet_remote = "2 s"\nstalled_after = "3 s"\n[cards]\nunder = ["${card.under}"]\n[[shelf]]\nname = "shelf-a"\npath = "${drive.mountPoint}"\n[[backup]]\nfrom = "stripe"\nto = ["shelf-a"]\n`,
    );
    return place.start(['--config', file]);
  }

  const told = (daemon: Running) => daemon.status().cards.find(({ name }) => name === 'SALT_A');
  const safety = (daemon: Running) => daemon.status().volumes[0]?.safety;
  const flat = (text: string) => text.replace(/\s+/g, ' ');

  test('is told beside the exposure, over a kill, is no copy, and is taken back by word or when its files are gone', async () => {
    const daemon = await start();
    card.mount('ro');
    await until('the card is seen', () => told(daemon) !== undefined);
    cpSync(card.mountPoint, join(place.volume, 'Saltmarsh/SALT_A'), { recursive: true, preserveTimestamps: true });
    await until('it has arrived', () => told(daemon)?.complete === true);
    const bytes = TAKES.reduce((sum, name) => sum + statSync(join(media, name)).size, 0);
    await until('it is exposed', () => safety(daemon)?.exposedBytes === bytes);
    expect(safety(daemon)).toMatchObject({ onCardsBytes: 0, onCards: [] });
    expect(flat(place.call('card', 'SALT_A').stdout)).toContain(
      "Of this card's inventory of 3 files, 3 arrived and match it by name and size; none of them has a verified copy.",
    );

    // What is no card cannot be kept.
    expect(place.call('card', '--kept')).toMatchObject({ status: 2 });
    expect(place.call('card', 'SALT_Z', '--kept')).toMatchObject({ status: 1 });
    expect(place.call('card', 'SALT_A', '--not-kept').stderr).toMatch(/nobody said that SALT_A is kept/);

    const said = place.call('card', 'SALT_A', '--kept');
    expect(said).toMatchObject({ status: 0, stderr: '' });
    expect(flat(said.stdout)).toMatch(
      /^Noted\. Card SALT_A: .* said at .* that this card is kept as it is; nobody .* exposed\. $/,
    );
    await until('it is told beside the exposure', () => safety(daemon)?.onCardsBytes === bytes);
    expect(safety(daemon)?.exposedBytes).toBe(bytes);
    card.unmount();
    await daemon.end('SIGKILL');

    const next = await start();
    await until('it is known as before', () => safety(next)?.onCardsBytes === bytes);
    expect(safety(next)).toMatchObject({
      exposedBytes: bytes,
      onCards: [{ name: 'SALT_A', saidBy: userInfo().username }],
    });
    expect(flat(place.call('status').stdout)).toMatch(
      new RegExp(`still lie on a card that was said to be kept: SALT_A \\(${userInfo().username}, `),
    );

    // A copy that was read back counts, and then nothing is exposed that could lie on a card.
    drive.mount();
    expect(place.call('backup', 'now', 'shelf-a').status).toBe(0);
    await until('it is backed up', () => safety(next)?.exposedBytes === 0, 60);
    await until('nothing exposed lies on it', () => safety(next)?.onCardsBytes === 0);
    const today = new Date().toISOString().slice(0, 4);
    await until('its copies are stated', () =>
      /each has 1 verified copy, on shelf-a/.test(flat(place.call('card').stdout)),
    );
    const stated = flat(place.call('card', 'SALT_A').stdout);
    expect(stated).toMatch(
      new RegExp(
        `Of this card's inventory of 3 files, 3 arrived and match it by name and size; each has 1 verified copy, on shelf-a, last read back on ${today}-\\d\\d-\\d\\d or later\\.`,
      ),
    );
    expect(stated).not.toMatch(/safe to|may be erased|can be erased|erase it|format it/i);

    // Formatted in its camera, of which nothing is told: the next look finds that files are gone.
    card.inCamera((root) => {
      rmSync(join(root, FOLDER, TAKES[0] ?? ''));
      renameSync(join(root, FOLDER, TAKES[1] ?? ''), join(root, FOLDER, 'A999.MOV'));
    });
    card.mount('ro');
    const lost = () => next.status().cards.find(({ kept }) => (kept ?? null)?.endedAt != null);
    await until('it is taken back', () => lost() !== undefined);
    expect(lost()).toMatchObject({ name: 'SALT_A', kept: { lacking: 2 } });
    expect(flat(place.call('status').stdout)).toContain(
      '2 files of its footage were not on it any more. So it is not counted as kept.',
    );
    expect(next.log()).toMatch(/SALT_A was said to be kept, and 2 files/);

    // What it is now is another card of the same name: which is meant is for a person to say.
    expect(place.call('card', 'SALT_A', '--kept').stderr).toMatch(/several are called SALT_A/);
    const id = lost()?.id ?? '';
    expect(place.call('card', id, '--not-kept').stderr).toMatch(/nobody said/);
    expect(place.call('card', id, '--kept').status).toBe(0);
    expect(place.call('card', id, '--not-kept').stdout).toMatch(/not counted as kept any more/);
    expect(next.status().cards.every(({ kept }) => kept === null)).toBe(true);
    expect(await next.end()).toBe(0);
  });
});
