import { describe, expect, test } from 'vitest';
import { HOUR_MS, MINUTE_MS, type VolumeMoment } from '../../../../src/core/assess/moments.ts';
import { volumePlots } from '../../../../src/core/present/html/plots.ts';
import { snapshot } from '../../../../src/core/present/snapshot.ts';
import { NOON, sampleAssessment } from '../../samples.ts';
import { CONTEXT } from '../hostile.ts';

const [volume] = snapshot(sampleAssessment(), [], CONTEXT).volumes;
if (volume === undefined) throw new Error('there is one');

function moment(at: number, over: Partial<VolumeMoment> = {}): VolumeMoment {
  return {
    ...{ at, needBps: 3e8, needFor: 'one clip', budgetBps: 4.2e8, givenBps: 1e8, peakBps: 2e8 },
    ...{ usedBytes: 3e12, roomEndBytes: 3.6e12, exposedBytes: 5e10, verifiedAt: NOON - 8 * HOUR_MS, ...over },
  };
}

const minutes = Array.from({ length: 60 }, (_, minute) =>
  moment(NOON - (60 - minute) * MINUTE_MS, minute < 30 ? {} : { needFor: '5 angles', needBps: 5.5e8 }),
);

describe('speed over the last day', () => {
  test('what had to be read, and for what from when on; what the drives gave; in words too', () => {
    const { speed } = volumePlots(volume, { minutes, hours: [], at: NOON });
    expect(speed.at).toHaveLength(20);
    expect(speed.groups.map(({ name }) => name)).toEqual(['one clip', '5 angles']);
    expect(speed.needBps.slice(0, 2)).toEqual([3e8, 3e8]);
    expect(speed.needBps.at(-1)).toBe(5.5e8);
    expect(speed.says).toBe(
      'At most 550 MB/s had to be read. Its drives gave 200 MB/s at most. What may be asked for was passed.',
    );
  });

  test('a time in which nobody looked is a gap', () => {
    const broken = [...minutes.slice(0, 10), ...minutes.slice(40)];
    const { speed } = volumePlots(volume, { minutes: broken, hours: [], at: NOON });
    const gap = speed.givenBps.indexOf(null);
    expect(gap).toBeGreaterThan(0);
    expect(speed.givenBps.filter((bps) => bps === null)).toHaveLength(1);
  });

  test('without anything kept, or known, it says so', () => {
    expect(volumePlots(volume, { minutes: [], hours: [], at: NOON }).speed.says).toMatch(/^It begins to be drawn/);
    const unknown = minutes.map((one) => ({ ...one, needBps: null, needFor: null, peakBps: null, givenBps: null }));
    expect(volumePlots(volume, { minutes: unknown, hours: [], at: NOON }).speed.says).toBe(
      'Nothing was known to be needed. Nothing is told of its drives. Whether that was more than may be asked for is not known.',
    );
  });

  test('where nothing is known of what may be asked for, it is not said to be enough', () => {
    const of = (budgetBps: number | null) =>
      volumePlots(volume, { minutes: minutes.map((one) => ({ ...one, budgetBps })), hours: [], at: NOON }).speed.says;
    expect(of(null)).toMatch(/Whether that was more than may be asked for is not known\.$/);
    expect(of(6e8)).toMatch(/What may be asked for was never passed\.$/);
  });
});

describe('room', () => {
  const band = [
    { at: '2027-03-05T12:00:00.000+00:00', lowBytes: 3.0e12, likelyBytes: 3.2e12, highBytes: 3.5e12 },
    { at: '2027-03-06T12:00:00.000+00:00', lowBytes: 3.1e12, likelyBytes: 3.4e12, highBytes: 3.9e12 },
  ];
  const overrun = { band } as unknown as NonNullable<typeof volume.capacity.overrun>;

  test('up to now as it was, from now on as it may go, with the reserve', () => {
    const dated = { ...volume, capacity: { ...volume.capacity, overrun } };
    const { room } = volumePlots(dated, {
      minutes,
      hours: [moment(NOON - 30 * HOUR_MS, { usedBytes: 2e12 })],
      at: NOON,
    });
    expect(room.reserveAt).toBe(3.6e12);
    expect(room.endBytes).toBe(4e12);
    expect([room.usedBytes[0], room.usedBytes.at(-1)]).toEqual([2e12, null]);
    const now = room.at.indexOf(NOON / 1000);
    expect([room.usedBytes[now], room.lowBytes[now], room.highBytes[now]]).toEqual([3e12, 3e12, 3e12]);
    expect([room.lowBytes.at(-1), room.likelyBytes.at(-1), room.highBytes.at(-1)]).toEqual([3.1e12, 3.4e12, 3.9e12]);
    expect(room.lowBytes.slice(0, now).every((bytes) => bytes === null)).toBe(true);
    const lengths = [room.at, room.usedBytes, room.lowBytes, room.likelyBytes, room.highBytes].map(
      ({ length }) => length,
    );
    expect(new Set(lengths).size).toBe(1);
  });

  test('before anything was kept it is as far back as is known by the day', () => {
    const history = [{ at: '2027-02-20T12:00:00.000+00:00', usedBytes: 1e12 }];
    const { room } = volumePlots(
      { ...volume, capacity: { ...volume.capacity, history } },
      { minutes, hours: [], at: NOON },
    );
    expect(room.usedBytes[0]).toBe(1e12);
    expect(room.says).toContain('from three days with footage on');
  });

  test('of a volume whose room is not known nothing is drawn', () => {
    const none = { ...volume, capacity: { ...volume.capacity, usedBytes: null, availableBytes: null } };
    expect(volumePlots(none, { minutes: [], hours: [], at: NOON }).room).toMatchObject({
      at: [],
      reserveAt: null,
      endBytes: null,
    });
  });
});

describe('exposure', () => {
  test('with the times at which copies were read back', () => {
    const hours = [moment(NOON - 26 * HOUR_MS, { verifiedAt: NOON - 32 * HOUR_MS, exposedBytes: 9e10 })];
    const { exposure } = volumePlots(volume, { minutes, hours, at: NOON });
    expect(exposure.readBack).toEqual([(NOON - 32 * HOUR_MS) / 1000, (NOON - 8 * HOUR_MS) / 1000]);
    expect(exposure.says).toBe('At most 90.0 GB were without enough verified copies.');
    expect(exposure.bytes[0]).toBe(9e10);
  });

  test('three years of hours and two days of minutes stay a few hundred points', () => {
    const many = Array.from({ length: 26_280 }, (_, hour) => moment(NOON - (26_280 - hour) * HOUR_MS));
    const days = Array.from({ length: 2880 }, (_, minute) => moment(NOON - (2880 - minute) * MINUTE_MS));
    const plots = volumePlots(volume, { minutes: days, hours: many, at: NOON });
    expect(plots.exposure.at.length).toBeLessThan(1500);
    expect(plots.room.at.length).toBeLessThan(1000);
    expect(plots.speed.at.length).toBeLessThan(500);
    expect(JSON.stringify(plots).length).toBeLessThan(200_000);
    expect(plots.exposure.at.every((at, place) => place === 0 || at > (plots.exposure.at[place - 1] ?? 0))).toBe(true);
  });

  test('what is not known is not drawn as nothing', () => {
    const unknown = minutes.map((one) => ({ ...one, exposedBytes: null }));
    const { exposure } = volumePlots(volume, { minutes: unknown, hours: [], at: NOON });
    expect(exposure.says).toBe('Not known so far.');
    expect(exposure.bytes.every((bytes) => bytes === null)).toBe(true);
  });
});
