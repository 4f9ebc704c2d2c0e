import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import { display } from '../../../src/core/present/escape.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { type ScreenOptions, statusScreen } from '../../../src/core/present/status-screen.ts';
import { runs } from '../../effort.ts';
import {
  NOON,
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';
import { ADVISORY, CONTEXT, hostileShapes, KNOWN, PRORES, snapshotOf, times } from './hostile.ts';

const LIVE = { width: 80, rows: null, old: null };

const AVC = {
  codec: 'AVC',
  width: 1920,
  height: 1080,
  frameRate: { num: 50, den: 1 },
  clips: 4,
  bytes: 1e10,
  timedBytes: 1e10,
  durationSeconds: 1000,
};

function screen(
  over: Partial<Assessment> = {},
  advisories: Parameters<typeof snapshot>[1] = [],
  options: ScreenOptions = LIVE,
) {
  return statusScreen(snapshot(sampleAssessment(over), advisories, CONTEXT), options);
}

describe('the screen', () => {
  test('answers in the order in which one asks', () => {
    const text = screen(
      {
        volumes: [
          sampleVolume({
            safety: { exposedBytes: 34e10, exposedClips: 12, exposedSeconds: 7500, exposedSince: NOON - 86_400_000 },
          }),
        ],
        projects: [{ ...NOTHING_MADE, sum: sampleSum({ formats: [PRORES, AVC] }), multicam: [sampleGroup()] }],
        arrivals: [sampleArrival(), sampleArrival({ stage: 'ready', reason: 'complete' })],
      },
      [ADVISORY],
    );
    expect(text).toBe(`headroomd 0.1.0, 2027-03-04 12:00:00

WARNING  stripe: playing 5 angles of Tidewater Sessions at once needs 550 MB/s,
         130 MB/s too much. (t68js, since 11:59.)
  - Play 3 of the 5 angles at once: needs about 330 MB/s of 420 MB/s.

stripe, /media/stripe
  Speed     Yes, if its declared speed is true: playing 3 angles at once
            (cameras A, B, C) needs 300 MB/s of the 420 MB/s that may be asked
            for; 1 more angle of the largest would fit.
            =======================================...............|.............
            Built at level 0 of 4 NVMe drives on usb4 (declared).
  Capacity  600 GB until the 400 GB kept free is touched; 3.00 TB of 4.00 TB in
            use.
            ===================================================..........|......
  Safety    12 clips (340 GB, 2 h 05 min) have fewer verified copies than you
            want, the oldest since 2027-03-03 12:00. Keep the cards.
            No backup of stripe is configured: it gets no copy before a
            [[shelf]] and a [[backup]] are written into the configuration.

Arrivals: 1 file or sequence not ready; 1 became ready in the last minute.
  copying  Tidewater Sessions/A002.mov
    1.24 GB at 110 MB/s, since 11:59: it is still growing

Projects:
  Tidewater Sessions (stripe): 1.00 TB, 34 clips, 2 h 05 min. Mostly ProRes
  3840x2160 at 25 fps (30 clips, 100 MB/s each), then AVC 1920x1080 at 50 fps.
  Multicam: up to 5 angles at once, 550 MB/s at the peak (same timecode on
  cameras A, B, C, D, E at 25 fps).

In the bars, = is used or needed and | is as far as it may go.
Page: http://127.0.0.1:4700/
`);
  });

  test('of an empty volume says what is not known, without a made-up zero', () => {
    const speed = { ...sampleVolume().speed, demandBps: null, demandFrom: null };
    const text = screen({ volumes: [sampleVolume({ speed, capacity: null, safety: null })] });
    expect(text).toContain('Nothing to warn of.');
    expect(text).toContain('Speed     Nothing to judge by yet: no clip with a known rate.');
    expect(text).toContain('Capacity  Not known.');
    expect(text).toContain('Safety    Not known:');
    expect(text).toContain('and keep the cards.');
    expect(text).toContain('Arrivals: none under way.');
    expect(text).toContain('Projects: none yet.');
    expect(text).not.toContain('=.');
  });

  test('an overrun is a no, a reserve in use is no room', () => {
    const capacity = assessCapacity({ totalBytes: 4e12, freeBytes: 84e9, availableBytes: 84e9 }, { bytes: 4e11 });
    const text = screen({
      volumes: [sampleVolume({ capacity, speed: { ...sampleVolume().speed, demandBps: 550e6 } })],
    });
    expect(text).toMatch(/Speed {5}No: [^.]* 130 MB\/s too\s+much\./);
    expect(text).toContain('Capacity  None: 84.0 GB left to write, 316 GB into the 400 GB kept free.');
    expect(text).toMatch(/={20,}\|={10,}\n/);
  });

  test('an undeclared speed promises nothing', () => {
    const text = screen({ volumes: [sampleVolume({ speed: { ...sampleVolume().speed, readBudgetBps: null } })] });
    expect(text).toMatch(/Speed {5}Not known: .* would need\s+300 MB\/s/);
  });

  test('no bar is drawn of what is not known, or of no budget', () => {
    const barsOf = (over: Parameters<typeof sampleVolume>[0]) =>
      screen({ volumes: [sampleVolume(over)] }).match(/^ {12}[=.|]+$/gm)?.length ?? 0;
    const { speed } = sampleVolume();
    expect(barsOf({})).toBe(2);
    expect(barsOf({ speed: { ...speed, readBudgetBps: null } })).toBe(1);
    expect(barsOf({ speed: { ...speed, demandBps: null } })).toBe(1);
    expect(barsOf({ speed: { ...speed, readBudgetBps: 0 } })).toBe(1);
    expect(barsOf({ capacity: null })).toBe(1);
  });

  test('a volume that is away says so before its old figures', () => {
    const text = screen({ volumes: [sampleVolume({ state: 'absent', stale: true, stateDetail: 'no such folder' })] });
    expect(text).toMatch(
      /stripe, \/media\/stripe\n {2}It is not there now \(no such folder\)\. .*\n {2}.* again\.\n {2}Speed/,
    );
  });

  test('a stored snapshot is marked as old', () => {
    expect(screen({}, [], { width: 80, rows: null, old: 3 * 3600 })).toMatch(
      /^headroomd.*\nOLD: stored 3 h ago by a daemon that no longer runs\./,
    );
  });

  test('of a stored snapshot it is not claimed that the volume is away', () => {
    const text = screen({ volumes: [sampleVolume({ state: 'absent' })] }, [], { width: 80, rows: null, old: 60 });
    expect(text).toContain('stripe, /media/stripe\n  Speed');
  });

  test('long lists are cut and the rest counted; trouble comes first', () => {
    const arrivals = Array.from({ length: 9 }, (_, index) => sampleArrival({ path: `P/${index}.mov`, bytes: index }));
    const projects = Array.from({ length: 8 }, (_, index) => ({
      ...NOTHING_MADE,
      sum: sampleSum({ project: `P${index}`, bytes: 1e9 * (index + 1) }),
      multicam: [],
    }));
    const text = screen(
      {
        arrivals: [...arrivals, sampleArrival({ path: 'P/bad.mov', bytes: 0, stage: 'refused', reason: 'empty' })],
        projects,
      },
      Array.from({ length: 7 }, () => ADVISORY),
    );
    expect(text).toContain('Arrivals: 10 files or sequences not ready.\n  refused  P/bad.mov\n');
    expect(text).toContain('and 5 more arrivals');
    expect(text).toContain('and 2 more advisories');
    expect(text).toContain('Projects:\n  P7 (stripe): 8.00 GB');
    expect(text).toContain('and 2 more projects with 3.00 GB');
  });

  test('what somebody wants quiet stays below the others, with who, why and until when', () => {
    const snoozed = { ...ADVISORY, message: 'stripe: news.', snooze: KNOWN };
    const until = { ...KNOWN, isKnown: false, until: NOON + 3_600_000, reason: '' };
    const critical = { ...until, isKnown: true, until: NOON + 86_400_000, ends: 'as-critical' as const };
    const text = screen({}, [
      ADVISORY,
      snoozed,
      { ...snoozed, snooze: until },
      { ...snoozed, severity: 'critical', snooze: critical },
    ]);
    expect(text).toContain(`(t68js, since 11:59.)
  - Play 3 of the 5 angles at once: needs about 330 MB/s of 420 MB/s.

2 known, 1 snoozed:
  warning  stripe: news. (t68js, since 11:59.)
    Known ("<b>shelf-b", anna, 11:58): quiet until it is over or gets worse.
  warning  stripe: news. (t68js, since 11:59.)
    Snoozed (anna, 11:58): quiet until 13:00, unless it gets worse.
  critical  stripe: news. (t68js, since 11:59.)
    Known (anna, 11:58): comes back at 2027-03-05 12:00 because it is critical.

stripe, /media/stripe
`);
    const quiet = screen({}, [snoozed]);
    expect(quiet).toContain('\n\nNothing new to warn of.\n\n1 known:\n  warning  stripe: news.');
    expect(screen({}, [ADVISORY])).not.toMatch(/known:|snoozed/);
  });

  test('a snapshot that was stored before there was quiet reads as nobody wanting it', () => {
    const now = snapshot(sampleAssessment(), [ADVISORY], CONTEXT);
    const old = { ...now, advisories: now.advisories.map(({ code, snooze, ...rest }) => rest) } as typeof now;
    const text = statusScreen(old, LIVE);
    expect(text).toContain('130 MB/s too much. (Since 11:59.)');
    expect(text).not.toMatch(/undefined|null|known:|snoozed/);
  });

  test('says when the page is off', () => {
    expect(statusScreen(snapshot(sampleAssessment(), [], { ...CONTEXT, page: null }), LIVE)).toMatch(/\nPage: off\n$/);
  });
});

describe('a terminal with few rows', () => {
  const arrivals = times(9, (index) => sampleArrival({ path: `Saltmarsh/${index}.mov`, bytes: index * 1e9 }));
  const projects = times(8, (index) => ({
    ...NOTHING_MADE,
    sum: sampleSum({ project: `Reel ${index}` }),
    multicam: [],
  }));
  const busy = snapshot(
    sampleAssessment({ arrivals, projects }),
    times(4, (index) => ({ ...ADVISORY, message: `stripe: news ${index}.` })),
    CONTEXT,
  );
  const [{ snooze: snoozed }] = snapshot(sampleAssessment(), [{ ...ADVISORY, snooze: KNOWN }], CONTEXT).advisories as [
    (typeof busy)['advisories'][number],
  ];
  const sized = (rows: number | null) => statusScreen(busy, { width: 80, rows, old: null });

  test('of 24 rows gets the worst, the three answers for the volume, and counts of the rest', () => {
    expect(sized(24)).toBe(`headroomd 0.1.0, 2027-03-04 12:00:00

WARNING  stripe: news 0. (t68js, since 11:59.)
  - Play 3 of the 5 angles at once: needs about 330 MB/s of 420 MB/s.
  and 3 more advisories; the page and status --json have all

stripe, /media/stripe
  Speed     Yes, if its declared speed is true: playing 3 angles at once
            (cameras A, B, C) needs 300 MB/s of the 420 MB/s that may be asked
            for; 1 more angle of the largest would fit.
  Capacity  600 GB until the 400 GB kept free is touched; 3.00 TB of 4.00 TB in
            use.
  Safety    No footage here waits for a copy, as far as is known.

Arrivals: 9 files or sequences not ready.

Projects: 8 projects with 8.00 TB.

Page: http://127.0.0.1:4700/
`);
  });

  test('of what somebody wants quiet a few rows get the count', () => {
    const quiet = {
      ...busy,
      advisories: busy.advisories.map((one, index) => ({ ...one, snooze: index > 1 ? snoozed : null })),
    };
    expect(statusScreen(quiet, { width: 80, rows: 26, old: null })).toContain(
      'and 1 more advisory; the page and status --json have all\n\n2 known (warning): "headroomd snooze" lists them.\n\nstripe',
    );
  });

  test('gets more the more rows it has', () => {
    const rowsOf = (text: string) => text.split('\n').length;
    const lengths = [10, 24, 28, 40, 60, null].map((rows) => rowsOf(sized(rows)));
    expect(lengths).toEqual(lengths.toSorted((one, other) => one - other));
    expect(new Set(lengths).size).toBe(4);
    expect(sized(10)).toBe(sized(24));
    expect(sized(rowsOf(sized(null)))).toBe(sized(null));
    expect(sized(rowsOf(sized(null)) - 1)).not.toBe(sized(null));
    expect(sized(null)).toContain('news 3');
  });
});

describe('whatever the names are', () => {
  const widths = fc.integer({ min: 40, max: 120 });

  test('no line is wider than the screen but the address, and none holds a control', () => {
    fc.assert(
      fc.property(hostileShapes(), widths, (shape, width) => {
        const lines = linesOf(statusScreen(snapshotOf(shape), { width, rows: null, old: Math.abs(shape.size) }));
        for (const line of lines) expect(line).toBe(display(line));
        for (const line of lines.slice(0, -1)) expect(terminalWidth(line)).toBeLessThanOrEqual(width);
        expect(lines.at(-1)).toMatch(/^Page: /);
      }),
      { numRuns: runs(200) },
    );
  });

  test('the screen fits the rows whenever its smallest form does, and tells the worst in any case', () => {
    fc.assert(
      fc.property(hostileShapes(), widths, fc.constantFrom(24, 40, null), (shape, width, rows) => {
        const sized = (most: number | null) =>
          linesOf(statusScreen(snapshotOf(shape), { width, rows: most, old: null }));
        const [smallest, lines, full] = [sized(1), sized(rows), sized(null)];
        // One row is the prompt's.
        if (rows !== null && smallest.length < rows) expect(lines.length).toBeLessThan(rows);
        if (rows === null || full.length < rows) expect(lines).toEqual(full);
        expect(lines.length).toBeGreaterThanOrEqual(smallest.length);
        expect(lines[lines.indexOf('') + 1]).toMatch(
          shape.advisories > 0 ? /^WARNING {2}first:/ : /^Nothing (new )?to warn of\.$/,
        );
        for (const line of lines.slice(0, -1)) expect(terminalWidth(line)).toBeLessThanOrEqual(width);
        expect(lines.at(-1)).toMatch(/^Page: /);
      }),
      { numRuns: runs(200) },
    );
  });

  test('a screen narrower than 40 columns gets 40', () => {
    const widest = Math.max(...linesOf(screen({}, [ADVISORY], { ...LIVE, width: 10 })).map(terminalWidth));
    expect(widest).toBeLessThanOrEqual(40);
    expect(widest).toBeGreaterThan(30);
  });

  test('an address is never broken: it is there to be copied', () => {
    const page = `http://127.0.0.1:4700/?token=${'0123456789abcdef'.repeat(4)}`;
    const text = statusScreen(snapshot(sampleAssessment(), [], { ...CONTEXT, page }), { ...LIVE, width: 40 });
    expect(text).toContain(`\nPage: ${page}\n`);
  });
});

/** Without the empty piece behind the last line break. */
function linesOf(text: string): string[] {
  expect(text).toMatch(/\n$/);
  return text.slice(0, -1).split('\n');
}

/**
 * Columns by code point: two for the wide blocks of UAX #11 (Hangul Jamo, CJK, Kana, Hangul, compatibility and full-width
 * forms, emoji, planes 2 and 3), one for all others.
 */
function terminalWidth(line: string): number {
  const wide = [
    [0x1100, 0x115f],
    [0x2e80, 0x303e],
    [0x3041, 0x33ff],
    [0x3400, 0x4dbf],
    [0x4e00, 0x9fff],
    [0xa000, 0xa4cf],
    [0xac00, 0xd7a3],
    [0xf900, 0xfaff],
    [0xfe30, 0xfe6f],
    [0xff01, 0xff60],
    [0xffe0, 0xffe6],
    [0x1f300, 0x1f64f],
    [0x1f900, 0x1f9ff],
    [0x20000, 0x3fffd],
  ];
  return [...line].reduce((sum, character) => {
    const code = character.codePointAt(0) ?? 0;
    return sum + (wide.some(([from = 0, to = 0]) => code >= from && code <= to) ? 2 : 1);
  }, 0);
}
