import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type CardImage, cardImage, whyNoCards } from '../rim/card/card-image.ts';
import { c4ByHand, historyByHand } from '../rim/manifest/by-hand.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/**
 * The real program beside a real card with a history of media hash lists on it. Hashes are made by md5sum(1) of GNU
 * coreutils and xxhsum(1); the lists are written by hand after the ASC Media Hash List Specification 1.0.
 */
let place: Bench;
let card: CardImage;

const whyNot = whyNoCards('exfat');
if (whyNot !== null)
  console.warn(`NOT CHECKED: lists of real cards beside the real program. None can be put in here: ${whyNot}`);

const TAKES = ['tidewater-a.mov', 'tidewater-b.mov', 'tidewater-c.mov', 'tidewater-d.mov'];
const FOLDER = 'DCIM/100SALTM';
const ARRIVED = 'Saltmarsh/SALT_A';

describe.skipIf(whyNot !== null)('a card with a list of its contents', () => {
  beforeEach(() => {
    place = bench();
    mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
    card = cardImage('exfat', 'SALT_A');
    card.inCamera((root) => {
      mkdirSync(join(root, FOLDER), { recursive: true });
      for (const name of TAKES) cpSync(join(media, name), join(root, FOLDER, name));
      const md5 = execFileSync('md5sum', TAKES, { cwd: join(root, FOLDER), encoding: 'utf8' });
      historyByHand(root, 'SALT_A', [
        md5
          .trim()
          .split('\n')
          .map((line) => {
            const [value = '', name = ''] = line.split(/ [ *]/);
            return { path: `${FOLDER}/${name}`, size: readFileSync(join(root, FOLDER, name)).length, md5: value };
          }),
      ]);
    });
  });
  afterEach(async () => {
    await place.clear();
    card.remove();
  });

  function start(): Promise<Running> {
    const file = join(place.folder, 'headroomd.toml');
    writeFileSync(
      file,
      `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*"\n[arrivals]\nquiet_remote = "2 s"\nstalled_after = "3 s"\n[cards]\nunder = ["${card.under}"]\n`,
    );
    return place.start(['--config', file]);
  }

  const list = (daemon: Running) => daemon.status().cards.find(({ source }) => source === 'manifest');
  const told = (daemon: Running) => daemon.status().advisories.find(({ kind }) => kind === 'list-differs');
  const onVolume = (name: string) => join(place.volume, ARRIVED, FOLDER, name);

  test('what was altered or is missing is named at once; over a kill nothing is read twice; it clears when it is copied again', async () => {
    const daemon = await start();
    card.mount('ro');
    await until('the card is seen', () => daemon.status().cards.length === 1);
    const [intact = '', altered = '', missing = '', renamed = ''] = TAKES;
    cpSync(join(card.mountPoint, 'ascmhl'), join(place.volume, ARRIVED, 'ascmhl'), { recursive: true });
    mkdirSync(join(place.volume, ARRIVED, FOLDER), { recursive: true });
    for (const name of [intact, altered]) cpSync(join(card.mountPoint, FOLDER, name), onVolume(name));
    cpSync(join(card.mountPoint, FOLDER, renamed), onVolume('heron.mov'));
    // One bit of the picture, as a bad cable flips it: size and structure stay.
    const bytes = readFileSync(onVolume(altered));
    const at = Math.floor(bytes.length / 2);
    bytes[at] = (bytes[at] ?? 0) ^ 1;
    writeFileSync(onVolume(altered), bytes);
    const found = execFileSync('md5sum', [onVolume(altered)], { encoding: 'utf8' }).slice(0, 32);
    const listed = execFileSync('md5sum', [join(media, altered)], { encoding: 'utf8' }).slice(0, 32);

    await until('what was altered is told', () => /not as listed/.test(told(daemon)?.message ?? ''), 60);
    await until('what is missing is told', () => told(daemon)?.figures['missingFiles'] === 1, 60);
    const message = told(daemon)?.message ?? '';
    expect(told(daemon)).toMatchObject({
      severity: 'critical',
      figures: { alteredFiles: 1, intactFiles: 1, renamedFiles: 1 },
    });
    expect(message).toContain(`${FOLDER}/${altered} (the list says md5 ${listed}, found ${found})`);
    expect(message).toContain(`${FOLDER}/${missing} (`);
    expect(list(daemon)?.check).toMatchObject({
      ...{ files: 4, intact: 1, altered: 1, missing: 1, renamed: 1, fresh: 0, pending: 0 },
      renamedFiles: [{ path: `${FOLDER}/heron.mov`, from: `${FOLDER}/${renamed}` }],
    });
    expect(daemon.status().advisories.filter(({ kind }) => kind === 'card-incomplete')).toEqual([]);

    await daemon.end('SIGKILL');
    const next = await start();
    await until('it is known as before', () => told(next)?.message === message, 90);
    expect(list(next)?.check).toMatchObject({ altered: 1, missing: 1, renamed: 1, pending: 0 });

    cpSync(join(card.mountPoint, FOLDER, altered), onVolume(altered), { preserveTimestamps: true });
    cpSync(join(card.mountPoint, FOLDER, missing), onVolume(missing), { preserveTimestamps: true });
    renameSync(onVolume('heron.mov'), onVolume(renamed));
    await until('it is taken back', () => told(next) === undefined, 60);
    await until('all was compared', () => list(next)?.check?.intact === 4, 60);
    // Told once and over once, whatever was killed in between.
    const said = (event: string) =>
      [daemon, next].flatMap((one) => one.log().match(new RegExp(`list-differs:.*"event":"${event}"`, 'g')) ?? [])
        .length;
    expect([said('first'), said('cleared')]).toEqual([1, 1]);
    expect(next.log()).not.toContain('card-incomplete:SALT_A (m-');

    // The list is called as the card is; only the card can be kept.
    const [{ id } = { id: '' }] = next.status().cards.filter(({ source }) => source === 'manifest');
    expect(place.call('card', id, '--kept').stderr).toMatch(/SALT_A is a list that came with footage/);
    expect(place.call('card', 'SALT_A', '--kept').status).toBe(0);
    await next.end('SIGKILL');
    const last = await start();
    const kept = () => last.status().cards.find(({ source }) => source === 'card')?.kept ?? null;
    await until('what was said is known', () => kept() !== null);
    expect(kept()).toMatchObject({ endedAt: null });
    await until('so much lies on it', () => (last.status().volumes[0]?.safety.onCardsBytes ?? 0) > 0);
    expect(list(last)?.check).toMatchObject({ intact: 4, pending: 0 });
    expect(place.call('card', 'SALT_A', '--not-kept').status).toBe(0);
    await until('nothing lies on it', () => last.status().volumes[0]?.safety.onCardsBytes === 0);
    expect(await last.end()).toBe(0);
  });

  test('a history that its chain does not vouch for is not compared with, and that is said', async () => {
    const daemon = await start();
    cpSync(join(media, TAKES[0] ?? ''), join(place.volume, 'Saltmarsh', TAKES[0] ?? ''));
    await until('it has looked around', () => daemon.status().volumes[0]?.state === 'live');
    card.mount('ro');
    cpSync(card.mountPoint, join(place.volume, ARRIVED), { recursive: true });
    const manifest = join(place.volume, ARRIVED, 'ascmhl/0001_SALT_A_2027-02-11_090000Z.mhl');
    const text = readFileSync(manifest, 'utf8');
    writeFileSync(manifest, text.replace('</md5>', '</md5> '));
    await until('it is told', () => /cannot be relied on/.test(told(daemon)?.message ?? ''), 60);
    expect(told(daemon)?.message).toContain(c4ByHand(readFileSync(manifest)));
    expect(list(daemon)?.check).toMatchObject({ intact: 0, altered: 0 });
  });
});
