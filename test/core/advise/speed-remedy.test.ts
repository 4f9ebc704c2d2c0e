import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fasterVolume, type SpeedCase, speedRemedies } from '../../../src/core/advise/speed-remedy.ts';
import type { MulticamGroup, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import { knownLayout } from '../../../src/core/assess/detected-layout.ts';
import { readBudget } from '../../../src/core/assess/speed-budget.ts';
import type { FormatSum } from '../../../src/core/store-ports.ts';
import { sampleGives, sampleGroup, sampleVolume } from '../samples.ts';

const FIVE = { streams: 5, meanBps: 500e6, spreadBps: 50e6, largestBps: 100e6 };
const CASE: SpeedCase = { playback: FIVE, withAmbient: false, group: sampleGroup(), formats: [] };

/** Gives so much that `budgetBps` may be asked for; nothing is known of its layout. */
function volume(budgetBps: number, over: Partial<VolumeAssessment> = {}): VolumeAssessment {
  const { speed } = sampleVolume();
  return sampleVolume({
    layout: null,
    speed: { ...speed, gives: sampleGives(budgetBps / 0.7) },
    ...over,
  });
}

const format = (over: Partial<FormatSum>): FormatSum => ({
  codec: 'H.264',
  width: 1920,
  height: 1080,
  frameRate: { num: 25, den: 1 },
  clips: 12,
  bytes: 6e9,
  durationSeconds: 1000,
  ...over,
  // All of known duration.
  timedBytes: over.bytes ?? 6e9,
});
const actions = (what: Partial<SpeedCase>, on: VolumeAssessment, others: VolumeAssessment[] = []) =>
  speedRemedies({ ...CASE, ...what }, on, others).map(({ action, effect }) => `${action}: ${effect}`);

describe('playing within the budget', () => {
  test('as many angles as fit, and always a volume that would do', () => {
    // 5 angles: 500 + 50 spread + 100 for a transition + 50 for scrubbing = 700; 3 angles: 300 + 32 + 100 + 30 = 462.
    expect(actions({}, volume(470e6))).toEqual([
      'Play 3 of the 5 angles at once: needs about 462 MB/s of 470 MB/s',
      'Edit from a volume that reads at least 1000 MB/s: 700 MB/s then stays within what may be asked for, here it is 470 MB/s',
    ]);
    expect(actions({}, volume(699e6))[0]).toMatch(/^Play 4 of the 5 angles at once/);
    expect(actions({}, volume(100e6))).toHaveLength(1);
  });

  test('what else goes on, where that alone is too much', () => {
    const speed = { ...volume(720e6).speed, ambient: { readBps: 0, writeBps: 200e6 } };
    expect(actions({ withAmbient: true }, volume(720e6, { speed }))[0]).toBe(
      'Pause copies, renders and backups while it plays: gives back 200 MB/s, and needs about 700 MB/s of 720 MB/s',
    );
    expect(actions({}, volume(720e6, { speed }))[0]).not.toMatch(/^Pause/);
    const low = { ...volume(600e6).speed, ambient: { readBps: 0, writeBps: 200e6 } };
    expect(actions({ withAmbient: true }, volume(600e6, { speed: low }))[0]).not.toMatch(/^Pause/);
  });

  test('the proxies that are there, measured', () => {
    const members: MulticamGroup['members'] = sampleGroup().members.map((member) => ({
      ...member,
      proxy: { path: `${member.camera}_Proxy.mov`, bps: 5e6 },
    }));
    expect(actions({ group: sampleGroup({ members }) }, volume(400e6))[0]).toBe(
      'Cut with the proxies that all angles have: needs about 32.5 MB/s of 400 MB/s',
    );
    const some = members.map((member, index) => (index < 2 ? member : { ...member, proxy: null }));
    expect(actions({ group: sampleGroup({ members: some }) }, volume(400e6))[0]).toMatch(
      /^Cut with the proxies that 2 of 5 angles have: needs about 441 MB\/s/,
    );
  });

  test('a lighter format of which clips exist, the best picture with which all angles fit', () => {
    const formats = [
      format({}), // 6 MB/s a stream
      format({ codec: 'ProRes', bytes: 50e9, clips: 1 }), // 50 MB/s
      format({ codec: 'DPX', bytes: 90e9 }), // 90 MB/s: five are still too many
      format({ codec: 'PCM', width: null, height: null, bytes: 1e9 }), // sound
      format({ codec: 'RAW', height: null }),
      format({ codec: null }),
      format({ codec: 'MJPEG', durationSeconds: 0 }),
    ];
    expect(actions({ formats }, volume(420e6))[1]).toBe(
      'Cut with angles in ProRes 1920x1080 at 25 fps, as 1 clip of this project already is: needs about 350 MB/s of 420 MB/s',
    );
    expect(actions({ formats: [format({ frameRate: null })] }, volume(420e6))[1]).toMatch(
      /^Cut with angles in H\.264 1920x1080, as 12 clips of this project already are/,
    );
  });

  test('one more member, or a level without parity and what that means', () => {
    const layout = { level: '5', members: 4, drive: 'ssd', link: null } as const;
    const told = actions({}, volume(640e6, { layout: knownLayout(layout, null) }));
    expect(told[1]).toMatch(
      /^Build it of 5 members in place of 4 \(it must be filled again from its copies\): needs about 700 MB\/s of 808 MB\/s$/,
    );
    expect(told[2]).toMatch(/^Build it at level 0, with a verified backup every night: one failed member then loses /);
    expect(actions({}, volume(400e6, { layout: knownLayout(layout, null) })).join()).not.toMatch(/Build it/);
    const pairs = { level: '10', members: 4, drive: 'ssd', link: null } as const;
    expect(actions({}, volume(640e6, { layout: knownLayout(pairs, null) }))[1]).toMatch(
      /^Build it of 6 members in place of 4/,
    );
    for (const level of ['single', '0'] as const) {
      const none = { level, members: level === 'single' ? 1 : 2, drive: 'ssd', link: null } as const;
      expect(actions({}, volume(699e6, { layout: knownLayout(none, null) })).join()).not.toMatch(/at level 0/);
    }
  });

  test('another volume that is here and gives enough is named', () => {
    const others = [volume(9e9, { name: 'off', state: 'absent' }), volume(450e6), volume(800e6, { name: 'second' })];
    expect(actions({}, volume(450e6), others).at(-1)).toBe('Edit it from second: needs about 700 MB/s of 800 MB/s');
  });

  test('the volume it names is fast enough by the rule that the budget goes by, and one a little slower is not', () => {
    expect(fasterVolume(550e6, 420e6, 0).action).toMatch(/ at least 550 MB\/s$/);
    fc.assert(
      fc.property(fc.integer({ min: 1e6, max: 5e9 }), fc.integer({ min: 0, max: 90 }), (demandBps, percent) => {
        const reserve = percent / 100;
        const [, figure, unit] =
          / at least ([\d.]+) ([MG])B\/s$/.exec(fasterVolume(demandBps, 0, reserve).action) ?? [];
        const readBps = Number(figure) * (unit === 'G' ? 1e9 : 1e6);
        const headroom = (share: number) => {
          const budgetBps = readBudget(sampleGives(readBps * share), reserve, 1);
          return (budgetBps - demandBps) / budgetBps;
        };
        // Figures are told to three digits.
        expect(headroom(1.005)).toBeGreaterThanOrEqual(0);
        expect(headroom(0.99)).toBeLessThan(0);
      }),
    );
  });
});
