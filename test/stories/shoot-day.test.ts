import { describe, expect, test } from 'vitest';
import { DOORS, GB, MINUTE, newWorld, raiseCurtain, SECOND, type Stage, TB, take, type World } from './stage.ts';

/** Whole days of the daemon, in process, on a clock that we turn: a concert with five cameras on a striped volume. */

/** The hold times that nobody changed: how long a condition lasts before it is told, and is over before it is taken back. */
const RAISE_AFTER = 20 * SECOND;
const CLEAR_AFTER = 60 * SECOND;

const room = (availableBytes: number) => ({ totalBytes: 8 * TB, freeBytes: availableBytes, availableBytes });
const path = (camera: string) => `Tidewater Sessions/Footage/CAM_${camera}/${camera}001C001_270304_TS.mov`;
const TIMECODES: Readonly<Record<string, string>> = {
  A: '20:15:00:00',
  B: '20:15:04:10',
  C: '20:14:58:02',
  D: '20:15:11:00',
  E: '20:15:20:12',
};

/** A card is copied: the file grows for a minute with its writer open, pauses, and is whole when the writer is gone. */
async function copyCard({ clock, root }: World, camera: string): Promise<void> {
  const { size, probe } = take(camera, TIMECODES[camera] ?? '');
  for (let part = 1; part <= 6; part++) {
    root.put(path(camera), { size: Math.round((size * part) / 6), wholeness: 'cut', writers: 'open' });
    await clock.advance(part === 3 ? 25 * SECOND : 10 * SECOND);
  }
  root.put(path(camera), { size, probe });
  await clock.advance(3 * SECOND);
}

function raised(stage: Stage): string[] {
  return stage.snapshot().advisories.map(({ kind, severity }) => `${kind} ${severity}`);
}

describe('a concert on five cameras', () => {
  test('each card is a clip once; the fifth angle is told before it is there, and it is over when the group goes to proxies', async () => {
    const stage = await raiseCurtain(newWorld(room(6 * TB)));
    for (const camera of ['A', 'B', 'C', 'D']) await copyCard(stage.world, camera);
    await stage.world.clock.advance(MINUTE);
    expect(stage.world.root.probed).toEqual(['A', 'B', 'C', 'D'].map(path));
    // Four angles of 110 MB/s, one more in a transition, and a tenth for scrubbing, of the 630 MB/s that may be asked for.
    expect(stage.snapshot().volumes[0]?.speed).toMatchObject({ demandBps: 594e6, readBudgetBps: 630e6, anglesLeft: 0 });
    expect(stage.announced).toEqual([]);

    // The fifth card is half copied when it is told: which group, what it will need, what the volume gives.
    const { size, probe } = take('E', TIMECODES['E'] ?? '');
    for (let part = 1; part <= 5; part++) {
      stage.world.root.put(path('E'), { size: Math.round((size * part) / 10), wholeness: 'cut', writers: 'open' });
      await stage.world.clock.advance(10 * SECOND);
    }
    expect(stage.announced).toEqual(['speed-overrun first']);
    expect(raised(stage)).toEqual(['speed-overrun notice']);
    const [ahead] = stage.snapshot().advisories;
    expect(ahead?.subject).toBe('stripe/Tidewater Sessions');
    expect(ahead?.message).toMatch(
      /^Camera E of Tidewater Sessions is arriving on stripe\. If they ran with the 4 angles that are here \(cameras A, B, C, D; same timecode on reels A001, B001, C001, D001 at 25 fps\), playing 5 angles of Tidewater Sessions at once needs 715 MB\/s, 85\.0 MB\/s more than the 630 MB\/s this volume may be asked for\.$/,
    );
    expect(ahead?.remedies[0]).toEqual({
      action: 'Play 4 of the 5 angles at once',
      effect: 'needs about 594 MB/s of 630 MB/s',
    });

    stage.world.root.put(path('E'), { size, probe });
    await stage.world.clock.advance(2 * MINUTE);
    expect(stage.snapshot().projects[0]?.multicam[0]).toMatchObject({
      angles: 5,
      demandBps: 550e6,
      startsAt: expect.stringMatching(/^2027-03-04T21:15:.*\+01:00$/),
    });
    // It is there now, and nobody is known to cut it as multicam: still a notice, and not said twice.
    expect(raised(stage)).toEqual(['speed-overrun notice']);
    expect(stage.snapshot().advisories[0]?.message).toMatch(
      /^stripe: 5 cameras of Tidewater Sessions ran at the same time/,
    );
    await stage.world.clock.advance(30 * MINUTE);
    expect(stage.announced).toEqual(['speed-overrun first']);

    // The editor makes proxies: over when the last angle has one, and not before.
    for (const camera of ['A', 'B', 'C', 'D', 'E']) {
      expect(raised(stage)).toEqual(['speed-overrun notice']);
      const proxy = take(camera, TIMECODES[camera] ?? '', 5e6);
      const name = path(camera).split('/').at(-1)?.replace('.mov', '_Proxy.mov');
      stage.world.root.put(`Tidewater Sessions/Proxy/${name}`, proxy);
      await stage.world.clock.advance(2 * MINUTE);
    }
    expect(stage.announced).toEqual(['speed-overrun first', 'speed-overrun cleared']);
    expect(stage.snapshot().projects[0]).toMatchObject({
      clips: 5,
      footageBytes: 330 * GB,
      safety: { exposedBytes: 330 * GB },
    });
    expect(stage.snapshot().projects[0]?.multicam[0]?.proxiesBps).toBe(25e6);
  });

  test('of a project that is cut as multicam the same is a warning, and over when angles go', async () => {
    const stage = await raiseCurtain(newWorld(room(6 * TB)), ['Tidewater Sessions']);
    for (const camera of ['A', 'B', 'C', 'D', 'E']) await copyCard(stage.world, camera);
    await stage.world.clock.advance(MINUTE);
    expect(raised(stage)).toEqual(['speed-overrun warning']);
    expect(stage.snapshot().advisories[0]?.message).toMatch(
      /^stripe: playing 5 angles of Tidewater Sessions at once needs 715 MB\/s, 85\.0 MB\/s more .* Expect dropped frames\.$/,
    );
    // With four it would still be close to the line.
    for (const camera of ['D', 'E']) stage.world.root.remove(`Tidewater Sessions/Footage/CAM_${camera}`);
    await stage.world.clock.advance(5 * MINUTE);
    expect(stage.announced.at(-1)).toBe('speed-overrun cleared');
  });

  test('a reader is pulled: told after ten minutes, and over when the card is copied again', async () => {
    const stage = await raiseCurtain(newWorld(room(6 * TB)));
    stage.world.root.put(path('A'), {
      size: 20 * GB,
      wholeness: 'cut',
      writers: 'none',
      detail: '20,000,000,000 of at least 66,000,000,000 bytes are there',
    });
    await stage.world.clock.advance(9 * MINUTE);
    expect(stage.snapshot().arrivals[0]).toMatchObject({ state: 'settling', reason: 'incomplete' });
    expect(stage.announced).toEqual([]);
    await stage.world.clock.advance(2 * MINUTE);
    expect(stage.announced).toEqual(['arrival-stalled first']);
    expect(stage.snapshot().advisories[0]?.message).toMatch(
      / has stopped at 20\.0 GB: its own structure says that bytes are missing \(20,000,000,000 of at least 66,000,000,000 bytes are there\)\.$/,
    );
    await copyCard(stage.world, 'A');
    await stage.world.clock.advance(MINUTE);
    expect(stage.announced).toEqual(['arrival-stalled first', 'arrival-stalled cleared']);
    expect(stage.snapshot().projects[0]?.clips).toBe(1);
  });
});

describe('a volume that fills', () => {
  test('the reserve is touched, then hardly anything is left, then there is room again: three announcements', async () => {
    const world = newWorld(room(1 * TB));
    const stage = await raiseCurtain(world);
    expect(raised(stage)).toEqual([]);
    world.root.setSpace(room(0.79 * TB));
    await world.clock.advance(2 * MINUTE);
    expect(raised(stage)).toEqual(['capacity-reserve warning']);
    world.root.setSpace(room(0.1 * TB));
    await world.clock.advance(2 * MINUTE);
    expect(raised(stage)).toEqual(['capacity-reserve critical']);
    world.root.setSpace(room(2 * TB));
    await world.clock.advance(5 * MINUTE);
    expect(stage.announced).toEqual(['capacity-reserve first', 'capacity-reserve worse', 'capacity-reserve cleared']);
  });

  test('while it is critical it is said again once a day', async () => {
    const world = newWorld(room(0.05 * TB));
    const stage = await raiseCurtain(world);
    await world.clock.advance(50 * 60 * MINUTE);
    expect(stage.announced).toEqual([
      'capacity-reserve first',
      'capacity-reserve reminder',
      'capacity-reserve reminder',
    ]);
  });
});

describe('a volume that goes away', () => {
  test('at lunch: what was known stays, nothing is told as deleted, nothing is read again', async () => {
    const world = newWorld(room(0.5 * TB));
    const stage = await raiseCurtain(world);
    await copyCard(world, 'A');
    await world.clock.advance(2 * MINUTE);
    const before = stage.snapshot();
    expect(stage.announced).toEqual(['capacity-reserve first']);

    world.root.setState('absent', 'nothing is mounted there');
    await world.clock.advance(RAISE_AFTER / 2);
    expect(stage.snapshot().volumes[0]?.state).toBe('unknown');
    expect(stage.announced).toEqual(['capacity-reserve first']);
    await world.clock.advance(RAISE_AFTER);
    expect(stage.announced).toEqual(['capacity-reserve first', 'volume-absent first']);
    await world.clock.advance(60 * MINUTE);
    const away = stage.snapshot();
    expect(away.volumes[0]).toMatchObject({ state: 'unknown', stale: true });
    expect(away.projects).toEqual(before.projects);
    // What was warned of before still stands, below.
    expect(raised(stage)).toEqual(['volume-absent warning', 'capacity-reserve warning']);
    expect(away.advisories[0]?.message).toMatch(/^stripe at .* \(nothing is mounted there\): It is not there now\./);

    world.root.setState('live');
    await world.clock.advance(CLEAR_AFTER / 2);
    expect(stage.announced).toEqual(['capacity-reserve first', 'volume-absent first']);
    await world.clock.advance(CLEAR_AFTER);
    expect(stage.snapshot().volumes[0]).toMatchObject({ state: 'live', stale: false });
    expect(stage.snapshot().projects).toEqual(before.projects);
    expect(world.root.probed).toEqual([path('A')]);
    expect(raised(stage)).toEqual(['capacity-reserve warning']);
    expect(stage.announced).toEqual(['capacity-reserve first', 'volume-absent first', 'volume-absent cleared']);
  });

  test('an empty folder in its place is not believed: nothing is forgotten, and it is told', async () => {
    const world = newWorld(room(6 * TB));
    const stage = await raiseCurtain(world);
    await copyCard(world, 'A');
    await world.clock.advance(MINUTE);
    const before = stage.snapshot().projects;
    world.root.tell({ type: 'listing', dir: '', files: [], dirs: [], unreadable: [] });
    await world.clock.advance(2 * MINUTE);
    expect(stage.snapshot().projects).toEqual(before);
    expect(stage.snapshot().volumes[0]).toMatchObject({ state: 'unknown', stale: true });
    expect(stage.snapshot().advisories[0]?.message).toMatch(
      /its folder is empty, but 1 file of it are known: is the right drive/,
    );
    await world.root.sweep();
    await world.clock.advance(2 * MINUTE);
    expect(stage.snapshot().volumes[0]?.state).toBe('live');
    expect(stage.announced).toEqual(['volume-absent first', 'volume-absent cleared']);
    expect(world.root.probed).toEqual([path('A')]);
  });

  test('a folder that was emptied, and gets footage again: it is that one, from the first file on', async () => {
    const world = newWorld(room(6 * TB));
    const stage = await raiseCurtain(world);
    await copyCard(world, 'A');
    await world.clock.advance(MINUTE);
    world.root.tell({ type: 'listing', dir: '', files: [], dirs: [], unreadable: [] });
    await world.clock.advance(MINUTE);
    expect(stage.snapshot().volumes[0]?.state).toBe('unknown');
    await copyCard(world, 'B');
    await world.clock.advance(10 * SECOND);
    expect(stage.snapshot().volumes[0]?.state).toBe('live');
  });

  test('a mount that hangs in mid-copy: the copy is taken when it answers again', async () => {
    const world = newWorld(room(6 * TB));
    const stage = await raiseCurtain(world);
    const { size, probe } = take('A', '20:15:00:00');
    world.root.put(path('A'), { size: size / 2, wholeness: 'cut', writers: 'open' });
    await world.clock.advance(SECOND);
    world.root.setState('hung', 'no answer for 10 s');
    await world.clock.advance(5 * MINUTE);
    expect(stage.snapshot().volumes[0]?.state).toBe('hung');
    expect(stage.snapshot().projects[0]?.clips ?? 0).toBe(0);
    expect(stage.announced).toEqual(['volume-absent first']);
    world.root.putUnseen(path('A'), { size, probe });
    world.root.setState('live');
    await world.clock.advance(MINUTE);
    expect(stage.snapshot().projects[0]).toMatchObject({ clips: 1, bytes: size });
  });
});

describe('a daemon that is killed', () => {
  test('in mid-copy: the next one knows all that was ready, and takes the rest', async () => {
    const world = newWorld(room(6 * TB));
    const first = await raiseCurtain(world);
    await copyCard(world, 'A');
    const { size, probe } = take('B', '20:15:04:10');
    world.root.put(path('B'), { size: size / 2, wholeness: 'cut', writers: 'open' });
    await world.clock.advance(2 * SECOND);
    first.kill();
    await world.clock.advance(MINUTE);
    world.root.putUnseen(path('B'), { size, probe });

    const second = await raiseCurtain(world);
    await world.clock.advance(MINUTE);
    expect(second.snapshot().projects[0]).toMatchObject({ clips: 2, bytes: 2 * size });
    expect(world.root.probed).toEqual([path('A'), path('B')]);
  });

  test('with an advisory raised: the next one neither repeats nor forgets it', async () => {
    const world = newWorld(room(0.5 * TB));
    const first = await raiseCurtain(world);
    world.root.put(path('A'), { size: 20 * GB, wholeness: 'cut' });
    world.root.put(path('B'), { size: 4000, wholeness: 'not-media' });
    await world.clock.advance(15 * MINUTE);
    expect(first.announced.toSorted()).toEqual([
      'arrival-refused first',
      'arrival-stalled first',
      'capacity-reserve first',
    ]);
    first.kill();
    await world.clock.advance(10 * MINUTE);

    const second = await raiseCurtain(world);
    expect(raised(second).toSorted()).toEqual([
      'arrival-refused warning',
      'arrival-stalled warning',
      'capacity-reserve warning',
    ]);
    await world.clock.advance(15 * MINUTE);
    expect(raised(second).toSorted()).toEqual([
      'arrival-refused warning',
      'arrival-stalled warning',
      'capacity-reserve warning',
    ]);
    expect(second.announced).toEqual([]);
    world.root.remove(path('A'));
    world.root.remove(path('B'));
    world.root.setSpace(room(6 * TB));
    await world.clock.advance(10 * MINUTE);
    expect(second.announced.toSorted()).toEqual([
      'arrival-refused cleared',
      'arrival-stalled cleared',
      'capacity-reserve cleared',
    ]);
  });

  test('the story begins where it says', () => {
    expect(new Date(DOORS).toISOString()).toBe('2027-03-04T18:00:00.000Z');
  });
});
