import { describe, expect, test } from 'vitest';
import { unitOf } from '../../../src/core/intake/group.ts';
import { kindOf } from '../../../src/core/intake/kind.ts';
import type { Clip, FileRecord } from '../../../src/core/model.ts';
import type { Log } from '../../../src/core/ports.ts';
import type { Evidence } from '../../../src/core/root-port.ts';
import type { BoardDeps } from '../../../src/daemon/intake/board-deps.ts';
import { understand } from '../../../src/daemon/intake/understand.ts';
import { createUnitBoard } from '../../../src/daemon/intake/unit-board.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeRoot } from '../../fakes/root.ts';

const NOW = 1_804_161_600_000;
const SECOND = 1000;
const MINUTE = 60 * SECOND;

type Look = Partial<Pick<Evidence, 'wholeness' | 'writers' | 'detail' | 'error'>>;

/** A board over files in memory, with a catalogue of what it kept and refused. */
function stage(over: Partial<BoardDeps> = {}) {
  const clock = fakeClock(NOW);
  const files = new Map<string, { record: FileRecord; look: Look }>();
  const kept = new Map<string, FileRecord>();
  const clips = new Map<string, Clip[]>();
  const refused: string[] = [];
  const errors: string[] = [];
  const log: Log = { debug() {}, info() {}, warn() {}, error: (_fields, message) => void errors.push(message) };
  const root = fakeRoot();
  let away = false;
  const inspect = async (paths: string[]): Promise<Evidence[]> => {
    if (away) throw new Error('the volume is not there');
    return paths.map((path) => {
      const file = files.get(path);
      const { wholeness = 'whole', writers = 'none', detail = null, error = null } = file?.look ?? {};
      return { path, stat: file?.record ?? null, error, writers, wholeness, detail };
    });
  };
  const board = createUnitBoard({
    volume: 'stripe',
    limits: settingsForFolders(['/media/stripe']).arrivals,
    clock,
    log,
    inspect,
    read: async (unit, records, evidence) => {
      const known = [...kept.values()].filter((file) => file.unit === unit);
      const all = new Map([...known, ...records].map((file) => [file.path, file]));
      const seen = new Set(records.map(({ path }) => path));
      return understand([...all.values()], seen, evidence, { root, log, at: clock.now });
    },
    keep: async (unit, understood) => {
      for (const file of understood.files) kept.set(file.path, file);
      clips.set(unit, understood.clips);
    },
    refused: async (records) => void refused.push(...records.map(({ path }) => path)),
    recall: async (units) => [...files.values()].map(({ record }) => record).filter(({ unit }) => units.includes(unit)),
    changed: () => {},
    ...over,
  });
  let version = 0n;
  /** Writes a file; the board is told unless `silent`. */
  const put = (path: string, size: number, look: Look = {}, silent = false): FileRecord => {
    version += 1n;
    const time = BigInt(NOW - 3 * MINUTE + clock.ticks()) * 1_000_000n + version;
    const { kind } = kindOf(path);
    const stat = {
      path,
      size,
      allocated: size,
      mtimeNs: time,
      ctimeNs: time,
      dev: 1n,
      ino: BigInt(path.length),
      nlink: 1,
    };
    const placed = { volume: 'stripe', area: 'project', project: 'P', kind, unit: unitOf(path, kind) } as const;
    const record: FileRecord = { ...stat, ...placed, state: 'arriving' };
    files.set(path, { record, look });
    root.putUnseen(path, { size, ...look });
    if (!silent) board.seen([record]);
    return record;
  };
  root.start(() => {});
  return {
    board,
    clock,
    errors,
    files,
    kept,
    put,
    refused,
    root,
    names: () => [...clips.values()].flat().map(({ name }) => name),
    clips: () => [...clips.values()].flat(),
    lines: () =>
      board
        .arrivals()
        .lines.filter(({ stage: told }) => told !== 'ready')
        .map(({ path, stage: told, reason }) => `${path} ${told} ${reason}`)
        .toSorted(),
    setAway: (now: boolean) => {
      away = now;
      root.setState(now ? 'absent' : 'live');
    },
  };
}

describe('one bad file of a unit', () => {
  test('an empty companion: the good picture is a clip, the empty one is refused under its own name', async () => {
    const { put, clock, names, lines, refused, kept } = stage();
    put('P/A001.mov', 5e9);
    put('P/A001.mp4', 0, { wholeness: 'empty' });
    await clock.advance(7 * SECOND);
    expect(names()).toEqual(['A001.mov']);
    expect([...kept.keys()]).toEqual(['P/A001.mov']);
    expect(lines()).toEqual(['P/A001.mp4 settling empty']);
    await clock.advance(MINUTE);
    expect(lines()).toEqual(['P/A001.mp4 refused empty']);
    expect(refused).toEqual(['P/A001.mp4']);
  });

  test('five bytes of sound: the picture does not wait for it; repaired, it joins the clip', async () => {
    const { put, clock, names, lines, clips } = stage();
    put('P/B001.mov', 5e9);
    put('P/B001.wav', 5, { wholeness: 'cut', detail: 'it has only 5 bytes' });
    await clock.advance(4 * SECOND);
    expect(names()).toEqual([]);
    await clock.advance(3 * SECOND);
    expect(clips().map(({ name, fileCount }) => [name, fileCount])).toEqual([['B001.mov', 1]]);
    expect(lines()).toEqual(['P/B001.wav settling incomplete']);
    await clock.advance(10 * MINUTE);
    expect(lines()).toEqual(['P/B001.wav stalled incomplete']);

    put('P/B001.wav', 4e6);
    expect(lines()).toEqual(['P/B001.wav copying growing']);
    await clock.advance(3 * SECOND);
    expect(clips().map(({ name, fileCount }) => [name, fileCount])).toEqual([['B001.mov', 2]]);
    expect(lines()).toEqual([]);
  });

  test('whole without an event: found by a look, and put back', async () => {
    const { put, clock, files, lines, clips } = stage();
    put('P/B001.mov', 5e9);
    put('P/B001.wav', 5, { wholeness: 'cut' });
    await clock.advance(MINUTE);
    files.set('P/B001.wav', { record: put('P/B001.wav', 4e6, {}, true), look: {} });
    await clock.advance(10 * SECOND);
    expect(clips().map(({ name, fileCount }) => [name, fileCount])).toEqual([['B001.mov', 2]]);
    expect(lines()).toEqual([]);
  });

  test('two bad files: a line each; seen again unchanged nothing happens; gone, the line is', async () => {
    const { put, clock, names, lines, files, board } = stage();
    put('P/A001.mov', 5e9);
    put('P/A001.mp4', 7, { wholeness: 'not-media' });
    put('P/A001.wav', 9, { wholeness: 'cut' });
    await clock.advance(20 * SECOND);
    const told = ['P/A001.mp4 refused not-media', 'P/A001.wav settling incomplete'];
    expect(names()).toEqual(['A001.mov']);
    expect(lines()).toEqual(told);
    board.seen([...files.values()].map(({ record }) => record).filter(({ path }) => !path.endsWith('mov')));
    expect(lines()).toEqual(told);
    board.gone(['P/A001.mp4']);
    expect(lines()).toEqual(['P/A001.wav settling incomplete']);
  });

  test('while its writer has it open the picture waits for the sound', async () => {
    const { put, clock, names, lines } = stage();
    put('P/A001.mov', 5e9);
    put('P/A001.wav', 9, { wholeness: 'cut', writers: 'open' });
    await clock.advance(MINUTE);
    expect(names()).toEqual([]);
    expect(lines()).toEqual(['P/A001.wav copying open-for-writing']);
  });
});

describe('a volume that goes away', () => {
  test('nothing is refused or called stalled meanwhile; `resumed` may be called again and again', async () => {
    const { put, clock, names, lines, refused, setAway, board, files } = stage();
    put('P/A001.mov', 5e9, { wholeness: 'cut' });
    put('P/B001.mov', 5e9);
    setAway(true);
    await clock.advance(3 * 60 * MINUTE);
    expect(refused).toEqual([]);
    expect(lines()).toEqual(['P/A001.mov settling not-quiet-yet', 'P/B001.mov settling not-quiet-yet']);
    setAway(false);
    const unfinished = [...files.values()].map(({ record }) => record);
    for (let times = 0; times < 3; times += 1) board.resumed(unfinished);
    await clock.advance(SECOND);
    board.resumed(unfinished);
    await clock.advance(MINUTE);
    expect(names()).toEqual(['B001.mov']);
    expect(lines()).toEqual(['P/A001.mov settling incomplete']);
  });

  test('in mid-probe: read again when it is back', async () => {
    const { put, clock, names, root, lines } = stage();
    let away = true;
    const { probe } = root;
    root.probe = async (file) => {
      if (away) throw new Error('the volume is not there');
      return probe(file);
    };
    put('P/A001.mov', 5e9);
    await clock.advance(5 * MINUTE);
    expect(lines()).toEqual(['P/A001.mov settling not-quiet-yet']);
    away = false;
    await clock.advance(15 * SECOND);
    expect(names()).toEqual(['A001.mov']);
  });

  test('what is apart is looked at again where it is, and keeps its line', async () => {
    const { put, clock, lines, board, files } = stage();
    put('P/A001.mov', 5e9);
    put('P/A001.mp4', 7, { wholeness: 'not-media' });
    await clock.advance(5 * SECOND);
    board.resumed([...files.values()].map(({ record }) => record).filter(({ path }) => path.endsWith('mp4')));
    expect(lines()).toEqual(['P/A001.mp4 settling not-quiet-yet']);
    await clock.advance(5 * SECOND);
    expect(lines()).toEqual(['P/A001.mp4 refused not-media']);
  });
});

describe('what goes wrong with us', () => {
  test('a reading that throws: told once, refused with the message, and tried again when the file changes', async () => {
    let broken = true;
    const good = stage();
    const { put, clock, lines, errors, refused } = stage({
      read: async (_unit, records, evidence) => {
        if (broken) throw new TypeError('frames is not iterable');
        return understand(records, new Set(records.map(({ path }) => path)), evidence, {
          root: good.root,
          log: { debug() {}, info() {}, warn() {}, error() {} },
          at: () => NOW,
        });
      },
    });
    for (const path of ['P/A001.mov', 'P/notes.txt']) put(path, 5e9);
    await clock.advance(60 * MINUTE);
    expect(lines()).toEqual(['P/A001.mov refused probe-failed', 'P/notes.txt refused probe-failed']);
    expect(errors).toEqual(
      ['P/A001.mov', 'P/notes.txt'].map(
        (path) =>
          `${path} on stripe could not be taken in: frames is not iterable. Nothing was done to it; keep the card.`,
      ),
    );
    expect(refused.toSorted()).toEqual(['P/A001.mov', 'P/notes.txt']);
    broken = false;
    good.root.putUnseen('P/A001.mov', { size: 6e9 });
    put('P/A001.mov', 6e9);
    await clock.advance(3 * SECOND);
    expect(lines()).toEqual(['P/notes.txt refused probe-failed']);
  });

  test('a decision that throws ends nothing else', async () => {
    const { put, clock, lines, errors, board, files, names } = stage();
    const broken = put('P/A001.mov', 5e9, {}, true);
    board.seen([{ ...broken, mtimeNs: null as unknown as bigint, ctimeNs: 1n }]);
    // The look compares its time with what was told, which is none.
    put('P/B001.mov', 5e9);
    await clock.advance(10 * MINUTE);
    expect(names()).toEqual(['B001.mov']);
    expect(lines()).toEqual(['P/A001.mov refused probe-failed']);
    expect(errors.length).toBe(1);
    expect(files.size).toBe(2);
  });
});

describe('a change at the wrong moment', () => {
  test('a companion that is gone before any event says so: the rest is a clip without it', async () => {
    const { put, clock, files, lines, names, root, kept } = stage();
    put('P/A001.mov', 5e9);
    put('P/A001.xml', 500);
    files.delete('P/A001.xml');
    root.remove('P/A001.xml');
    await clock.advance(5 * SECOND);
    expect([names(), lines(), [...kept.keys()]]).toEqual([['A001.mov'], [], ['P/A001.mov']]);
  });

  test('while a unit is grouped: what arrives meanwhile is not kept as ready', async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    const keptNames: string[] = [];
    let asked = 0;
    const s = stage({
      read: async (_unit, records) => {
        asked += 1;
        if (asked === 1) await promise;
        return {
          ok: true,
          understood: { clips: [], fresh: new Set(), files: [...records], beside: new Set(), lists: [] },
        };
      },
      keep: async (_unit, { files }) => void keptNames.push(...files.map(({ path, size }) => `${path} ${size}`)),
    });
    s.put('P/notes.txt', 5);
    await s.clock.advance(5 * SECOND);
    expect(asked).toBe(1);
    s.put('P/notes.txt', 700, { writers: 'open' });
    resolve();
    await s.clock.advance(20 * SECOND);
    expect(keptNames).toEqual([]);
    s.put('P/notes.txt', 900);
    await s.clock.advance(5 * SECOND);
    expect(keptNames).toEqual(['P/notes.txt 900']);
  });

  test('of the files that the catalogue names only those are read that are ready or have settled', async () => {
    const { put, root } = stage();
    const log: Log = { debug() {}, info() {}, warn() {}, error() {} };
    const mov = put('P/A001.mov', 5e9, {}, true);
    const wav = put('P/A001.wav', 5, {}, true);
    const xml: FileRecord = { ...put('P/A001.xml', 5, {}, true), state: 'ready' };
    const found = await understand([mov, wav, xml], new Set([mov.path]), 'no-writer', { root, log, at: () => NOW });
    if (!found.ok) throw new Error(found.detail);
    expect(found.understood.files.map(({ path }) => path)).toEqual(['P/A001.mov', 'P/A001.xml']);
  });
});

describe('the line', () => {
  test('`since` of what has halted is the time of the file itself, also after a restart, and never in the future', async () => {
    const first = stage();
    const record = first.put('P/A001.mov', 5, { wholeness: 'not-media' });
    await first.clock.advance(MINUTE);
    const second = stage();
    await second.clock.advance(30 * MINUTE);
    second.files.set(record.path, { record, look: { wholeness: 'not-media' } });
    second.board.resumed([record]);
    await second.clock.advance(MINUTE);
    const [one, two] = [first, second].map(({ board }) => board.arrivals().lines[0]);
    expect([one?.stage, one?.since]).toEqual(['refused', NOW - 3 * MINUTE]);
    expect(two?.since).toBe(one?.since);

    const early = stage();
    const late = { ...record, ctimeNs: BigInt(NOW + 60 * MINUTE) * 1_000_000n };
    early.files.set(late.path, { record: late, look: { wholeness: 'not-media' } });
    early.board.seen([late]);
    await early.clock.advance(MINUTE);
    expect(early.board.arrivals().lines[0]?.since).toBe(early.clock.now());
  });

  test('of a sequence: its pattern while frames come, the bad frame when it is refused', async () => {
    const { put, clock, lines } = stage();
    for (let frame = 1; frame <= 4; frame += 1)
      put(`P/r/x_000${frame}.dpx`, 50, frame === 3 ? { wholeness: 'not-media' } : {});
    expect(lines()).toEqual(['P/r/x_[####].dpx copying growing']);
    await clock.advance(MINUTE);
    expect(lines()).toEqual(['P/r/x_0003.dpx refused not-media']);
  });
});

describe('very many at once', () => {
  const many = (count: number) => Array.from({ length: count }, (_, at) => `P/C${String(at).padStart(4, '0')}.mov`);

  test('those that a listing shows wait while many others are looked at; all are told, and all become clips', async () => {
    let most = 0;
    const s = stage({ mostAtOnce: 20 });
    const records = many(300).map((path) => s.put(path, 1000, {}, true));
    for (let at = 0; at < 300; at += 50) s.board.seen(records.slice(at, at + 50), true);
    const shown = s.board.arrivals();
    expect([shown.pending, shown.bytes]).toEqual([300, 300_000]);
    expect(shown.lines.length).toBe(21);
    for (let second = 0; second < 60; second += 1) {
      await s.clock.advance(SECOND);
      most = Math.max(most, s.board.arrivals().lines.filter(({ stage: told }) => told !== 'ready').length);
    }
    expect(s.names().length).toBe(300);
    expect(s.board.arrivals().pending).toBe(0);
    // Those that were called in together come on top.
    expect(most).toBeLessThan(300);
  });

  test('what something happens to now goes before those that wait, and a unit that waits comes whole', async () => {
    const s = stage({ mostAtOnce: 1 });
    s.put('P/open.mov', 5, { writers: 'open' });
    const [mov, xml] = [s.put('P/A001.mov', 5e9, {}, true), s.put('P/A001.xml', 50, {}, true)];
    s.board.seen([mov, xml], true);
    await s.clock.advance(MINUTE);
    expect(s.names()).toEqual([]);
    s.board.seen([s.put('P/B001.mov', 5e9, {}, true)]);
    await s.clock.advance(5 * SECOND);
    expect(s.names()).toEqual(['B001.mov']);
    s.board.seen([s.put('P/A001.xml', 60, {}, true)]);
    await s.clock.advance(5 * SECOND);
    expect(s.clips().map(({ name, fileCount }) => [name, fileCount])).toEqual([
      ['B001.mov', 1],
      ['A001.mov', 2],
    ]);
  });

  test('one that something was said about has its line, also while it waits', async () => {
    const s = stage({ mostAtOnce: 1 });
    s.put('P/open.mov', 5, { writers: 'open' });
    s.board.seen(
      many(9).map((path) => s.put(path, 1000, {}, true)),
      true,
    );
    const lines = (about: string[]) => s.board.arrivals(about).lines.map(({ path }) => path);
    expect(lines([])).toEqual(['P/open.mov', 'P/C0000.mov']);
    expect(lines(['P/C0007.mov', 'P/unknown.mov'])).toEqual(['P/open.mov', 'P/C0000.mov', 'P/C0007.mov']);
  });

  test('a catalogue that does not answer is asked again', async () => {
    let broken = true;
    const waiting = stage({
      mostAtOnce: 1,
      recall: async () => {
        if (broken) throw new Error('The state disk is full.');
        return [...waiting.files.values()].map(({ record }) => record).filter(({ path }) => path.includes('C0'));
      },
    });
    waiting.put('P/A001.mov', 5e9);
    waiting.board.seen(
      many(3).map((path) => waiting.put(path, 1000, {}, true)),
      true,
    );
    await waiting.clock.advance(MINUTE);
    expect(waiting.names()).toEqual(['A001.mov']);
    broken = false;
    await waiting.clock.advance(MINUTE);
    expect(waiting.names().length).toBe(4);
  });
});
