import { describe, expect, test } from 'vitest';
import { codeOf } from '../../../src/core/advise/advisory-code.ts';
import { createSnoozeDesk } from '../../../src/daemon/assess/snooze-desk.ts';
import { FULL, outside, SHORT, stage } from './assess-stage.ts';

const SECOND = 1000;
const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const ID = 'capacity-reserve:stripe';
const CODE = codeOf(ID);

/** A daemon on a volume that gets full, and the desk beside it. */
async function run(world = outside()) {
  const { clock } = world;
  const staged = await stage(world);
  const lines: string[] = [];
  const note = (_fields: object, line: string) => void lines.push(line);
  const log = { debug() {}, info: note, warn: note, error: note };
  const desk = createSnoozeDesk({ ...staged.flow, clock, log, zone: 'UTC' });
  const full = async (room = SHORT) => {
    staged.world.room = room;
    world.room = room;
    await clock.advance(120 * SECOND);
  };
  return { ...staged, ...{ desk, lines, world, full } };
}

const by = 'anna';

describe('an advisory that is snoozed', () => {
  test('is told again when the time is over, at that time and not at the next look', async () => {
    const { announced, clock, desk, full, flow } = await run();
    await full();
    expect(announced).toEqual(['capacity-reserve first']);
    const until = clock.now() + HOUR + 7.3 * SECOND;
    expect(await desk.snooze([CODE], { until, reason: 'renders move', by })).toMatchObject({
      kept: true,
      advisories: [{ id: ID, code: CODE, snooze: { reason: 'renders move', saidBy: 'anna', known: false } }],
    });
    expect(flow.current().advisories).toMatchObject([{ id: ID, snooze: { saidBy: 'anna' } }]);
    await clock.advance(HOUR + 7 * SECOND);
    expect(announced).toHaveLength(1);
    await clock.advance(0.6 * SECOND);
    expect(announced).toEqual(['capacity-reserve first', 'capacity-reserve reminder']);
    expect(flow.current().advisories).toMatchObject([{ id: ID, snooze: null }]);
    await clock.advance(2 * DAY);
    expect(announced).toHaveLength(2);
  });

  test('stays so over a restart, is told once when it ends, and once when it ended while nobody ran', async () => {
    const first = await run();
    await first.full();
    const { clock } = first.world;
    await first.desk.snooze([CODE], { until: clock.now() + 2 * HOUR, reason: '', by });
    await first.flow.stop();
    await clock.advance(HOUR);
    const second = await run(first.world);
    await clock.advance(60 * SECOND);
    expect(second.announced).toEqual([]);
    expect(second.desk.list()).toMatchObject([{ id: ID, snooze: { saidBy: 'anna', reason: null } }]);
    await clock.advance(HOUR);
    expect(second.announced).toEqual(['capacity-reserve reminder']);
    await second.desk.snooze([ID], { until: clock.now() + HOUR, reason: '', by });
    await second.flow.stop();
    await clock.advance(2 * HOUR);
    const third = await run(first.world);
    await clock.advance(60 * SECOND);
    expect(third.announced).toEqual(['capacity-reserve reminder']);
    await third.flow.stop();
    const fourth = await run(first.world);
    await clock.advance(60 * SECOND);
    expect(fourth.announced).toEqual([]);
  });

  test('nothing that comes up before the state was read makes it forget', async () => {
    const first = await run();
    await first.full();
    await first.desk.snooze([CODE], { until: null, reason: 'renders move', by });
    await first.flow.stop();
    const { clock } = first.world;
    const second = await stage(first.world, false);
    second.flow.again();
    second.flow.touch('stripe', null);
    await clock.advance(5 * SECOND);
    await second.flow.start();
    await clock.advance(60 * SECOND);
    expect(second.announced).toEqual([]);
    expect(second.flow.current().advisories).toMatchObject([{ id: ID, snooze: { reason: 'renders move' } }]);
  });

  test('is told again when it is lifted; only what it silenced is taken back from the channels', async () => {
    const { announced, clock, desk, full, lines, withdrawn } = await run();
    await full();
    await desk.snooze([CODE, ID], { until: null, reason: 'shelf-b\u001b comes', by });
    expect(withdrawn).toEqual([[ID]]);
    await clock.advance(2 * DAY);
    expect(announced).toHaveLength(1);
    expect(await desk.lift([CODE], 'ben')).toMatchObject({ kept: true, advisories: [{ id: ID, snooze: null }] });
    await clock.advance(SECOND);
    expect(announced).toEqual(['capacity-reserve first', 'capacity-reserve reminder']);
    expect(withdrawn).toEqual([[ID], []]);
    expect(lines).toEqual([`${ID} is known, as anna said: shelf-b\\x1b comes`, `${ID} is told again, as ben said`]);
    expect(await desk.lift([CODE], 'ben')).toEqual({ problem: `${CODE} is not snoozed` });
  });

  test('what is critical comes back within a day and is told so when it is asked; what gets critical speaks at once', async () => {
    const { announced, clock, desk, full } = await run();
    await full();
    await desk.snooze([CODE], { until: clock.now() + 3 * DAY, reason: '', by });
    await full(FULL);
    expect(announced).toEqual(['capacity-reserve first', 'capacity-reserve worse']);
    expect(desk.list()).toEqual([]);
    const told = await desk.snooze([CODE], { until: null, reason: 'renders move', by });
    const back = new Date(clock.now() + DAY).toISOString().replace('Z', '+00:00');
    expect(told).toMatchObject({ advisories: [{ snooze: { known: true, until: back, untilCritical: true } }] });
    await clock.advance(DAY - SECOND);
    expect(announced).toHaveLength(2);
    await clock.advance(1.5 * SECOND);
    expect(announced.slice(2)).toEqual(['capacity-reserve reminder']);
  });

  test('what cannot be done is said in words, and changes nothing', async () => {
    const { desk, full, flow } = await run();
    const asked = { until: null, reason: 'x', by };
    expect(await desk.snooze([CODE], asked)).toEqual({
      problem: `no advisory is called ${CODE} (one that was may be over); none stands`,
    });
    await full();
    for (const [names, changes, problem] of [
      [[], {}, /^name the advisory$/],
      [[CODE, 'zzzzz'], {}, /^no advisory is called zzzzz/],
      [Array.from({ length: 101 }, () => CODE), {}, /^at most 100 /],
      [[CODE], { reason: '' }, /takes a reason/],
      [[CODE], { reason: 'x'.repeat(201) }, /at most 200/],
      [[CODE], { until: 5 }, /over already/],
    ] as const) {
      expect(await desk.snooze(names, { ...asked, ...changes })).toEqual({ problem: expect.stringMatching(problem) });
    }
    expect(desk.list()).toEqual([]);
    expect(flow.current().advisories).toMatchObject([{ snooze: null }]);
  });

  test('holds though the ledger refuses, says so, and is kept when the ledger takes it', async () => {
    const { announced, clock, desk, full, world } = await run();
    await full();
    const put = world.ledger.putAdvisories;
    world.ledger.putAdvisories = async () => {
      throw new Error('The disk of the state is full.');
    };
    expect(await desk.snooze([CODE], { until: null, reason: 'x', by })).toMatchObject({ kept: false });
    expect(desk.list()).toHaveLength(1);
    await clock.advance(HOUR);
    expect(announced.filter((line) => line.startsWith('capacity-reserve'))).toHaveLength(1);
    const isKept = async () => (await world.ledger.advisories()).some(({ json }) => json.includes('"isKnown":true'));
    expect(await isKept()).toBe(false);
    world.ledger.putAdvisories = put;
    await clock.advance(10 * SECOND);
    expect(await isKept()).toBe(true);
  });
});
