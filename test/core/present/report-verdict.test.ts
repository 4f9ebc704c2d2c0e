import { describe, expect, test } from 'vitest';
import { reportOf } from '../../../src/core/present/report.ts';
import { cardSnapshot } from '../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { sampleCard } from '../card-samples.ts';
import { sampleSum, sampleVolume } from '../samples.ts';
import { KNOWN } from './hostile.ts';
import { BACKUP, BUSY, badNight, factsOf, NIGHT, PROJECT, reportOfNothing, said, VIEW } from './report-story.ts';

describe('a night that was not good', () => {
  test('is told in the first sentence and in the subject, with all that is not as it should be', () => {
    const { verdict } = reportOf(badNight());
    expect(verdict).toEqual({
      copies: 'lacking',
      troubles: ['refused', 'backup-failed', 'incomplete'],
      headline:
        'Not everything has its copies: 3 clips (96.0 GB, 26 min 00 s) have fewer verified copies than you want, the oldest since 2027-03-04 18:12. Keep the cards. Besides, 2 files or sequences were refused, stopped or not whole, the backup of stripe to shelf-a did not do all of its work and 1 take lacks parts or frames.',
      title:
        'Report: 3 clips without their copies (96.0 GB); besides, 2 files or sequences were refused, stopped or not whole, the...',
    });
  });

  test('names what was refused, what is not whole, what is on its way, and what the backup left behind', () => {
    expect(said(badNight(), 'Arrived').slice(1)).toEqual([
      expect.stringMatching(
        /^Refused: Saltmarsh\/noise\.mov \(stripe\), 1\.24 GB .*its name says media, its content does not\.$/,
      ),
      expect.stringMatching(/^Waiting: Saltmarsh\/cut\.mov .*its own structure says that bytes are missing\.$/),
      '1 file or sequence is still on its way (5.00 GB so far).',
      'Saltmarsh (stripe): 1 take lacks parts or frames: SM-A01_[0001-0100].dng.',
    ]);
    // 318 GB in 2,000 s are 159 MB/s.
    expect(said(badNight(), 'Backups')).toEqual([
      '04:00 to 04:41, stripe to shelf-a, its night: 11 files (318 GB) copied at 159 MB/s with reading back, each read back from the medium; 3 files left behind: Saltmarsh/A001.mov (No room is left on shelf-a), Saltmarsh/A002.mov (No room is left on shelf-a), Saltmarsh/A003.mov (No room is left on shelf-a).',
    ]);
    expect(said(badNight(), 'What would be lost now')[0]).toMatch(
      /^stripe: 3 clips \(96\.0 GB, 26 min 00 s\) have fewer verified copies than you want, the oldest since 2027-03-04 18:12\. Keep the cards\. Wanted are 2/,
    );
    expect(said(badNight(), 'What would be lost now').at(-1)).toBe(
      'That the volume is lost before the next backup has ended (21 h 00 min): about 1 in 2,000, by usual figures (1.5 % of drives a year, 1 % a year for deletion, theft and fire), not by those of your drives.',
    );
  });

  test('what a later run made good is no trouble any more', () => {
    const runs = [...badNight().runs, { kind: 'backup' as const, run: { ...BACKUP, cause: 'retry' as const } }];
    expect(reportOf(badNight({ runs })).verdict.troubles).not.toContain('backup-failed');
  });

  test('what is critical comes first in the subject, and a long one is cut', () => {
    const worst = {
      ...BUSY,
      severity: 'critical' as const,
      message: `stripe lost a drive${' indeed'.repeat(30)}. Act.`,
    };
    const { title, troubles } = reportOf({
      ...badNight(),
      ...factsOf(NIGHT, { backups: VIEW }, [BUSY, worst]),
    }).verdict;
    expect(title).toMatch(/^Report, critical: stripe lost a drive indeed .*\.\.\.$/);
    expect(title.length).toBeLessThanOrEqual(120);
    expect(troubles).toEqual(['critical-advisory', 'warning']);
  });

  test('what somebody knows of makes no night a bad one, and is told all the same with who knows it', () => {
    const known = { ...BUSY, severity: 'critical' as const, snooze: KNOWN };
    const facts = { ...badNight(), ...factsOf(NIGHT, { backups: VIEW }, [known]) };
    const { title, troubles } = reportOf(facts).verdict;
    expect(title).not.toContain('critical');
    expect(troubles).toEqual([]);
    expect(said(facts, 'Advisories')).toEqual([
      expect.stringMatching(/^CRITICAL.*: /),
      expect.stringMatching(/^Known \("<b>shelf-b", anna, .*\): quiet until it is over or gets worse\.$/),
    ]);
  });

  test('so is a take of which somebody knows that parts are missing', () => {
    const take = { ...BUSY, id: 'take', kind: 'take-incomplete' as const, subject: 'stripe/Saltmarsh' };
    const of = (snooze: typeof KNOWN | null) => {
      const facts = badNight();
      const advisories = factsOf(NIGHT, {}, [{ ...take, snooze }]).snapshot.advisories;
      return reportOf({ ...facts, snapshot: { ...facts.snapshot, advisories } }).verdict.troubles;
    };
    expect([of(null).includes('incomplete'), of(KNOWN).includes('incomplete')]).toEqual([true, false]);
  });

  test('footage that is no clip yet, cards that lack some, and volumes that are away are told', () => {
    const safety = { exposedBytes: 4e9, exposedClips: 0, exposedSeconds: 0, exposedSince: null };
    const away = sampleVolume({ safety, state: 'absent', stale: true });
    const cards = [
      { card: cardSnapshot(sampleCard([], { state: 'gone' }), (one) => isoWithOffset(one, 'UTC')), in: [] },
    ];
    const facts = { ...factsOf(NIGHT, { volumes: [away], projects: [PROJECT] }), cards };
    const { headline, title, troubles } = reportOf(facts).verdict;
    expect(headline).toBe(
      'Not everything has its copies: 4.00 GB of footage, no whole clip among it yet, has fewer verified copies than you want. Keep the cards. Besides, stripe could not be looked at and of 1 card or list footage has not arrived.',
    );
    expect(title).toMatch(/^Report: footage without its copies \(4\.00 GB\); besides, stripe could not/);
    expect(troubles).toEqual(['volume-not-live', 'card-lacking']);
    expect(said(facts, 'Arrived')[1]).toMatch(
      /^Card SM-A01 \(XAVC \(M4ROOT\), 11 files, 10\.0 GB\), not in now: none of it has arrived; /,
    );
  });

  test('of what is not known nothing good is said', () => {
    const facts = factsOf(NIGHT, { volumes: [sampleVolume(), sampleVolume({ name: 'other', safety: null })] });
    const { copies, headline, title } = reportOf(facts).verdict;
    expect(copies).toBe('not-known');
    expect(headline).toMatch(/^Whether everything that arrived has its copies is not known: .*keep the cards\.$/);
    expect(title).toBe('Report: whether everything that arrived has its copies is not known');
    expect(reportOf(factsOf(NIGHT, { volumes: [] })).verdict.copies).toBe('not-known');
  });
});

describe('a quiet night', () => {
  test('without footage, and without anything new', () => {
    expect(reportOfNothing(NIGHT).verdict).toEqual({
      ...{ copies: 'none-here', troubles: [], headline: 'Nothing arrived, and no footage is here.' },
      title: 'Report: nothing arrived',
    });
    const outside = (area: 'shared' | 'trash') =>
      reportOf(factsOf(NIGHT, { volumes: [sampleVolume({ areas: [sampleSum({ area, project: null })] })] })).verdict;
    expect([outside('shared').copies, outside('trash').copies]).toEqual(['all', 'none-here']);
    const { headline, title } = reportOf(factsOf(NIGHT, { projects: [PROJECT] }, [BUSY])).verdict;
    expect(title).toBe('Report: nothing arrived, and all footage has its copies, but 1 warning stands');
    expect(headline).toBe('Nothing arrived, and all footage that is here has its copies, but 1 warning stands.');
  });

  test('says that no backup ended, and that none is configured', () => {
    expect(said(factsOf(NIGHT), 'Backups')).toEqual(['No backup ended.']);
    expect(said(factsOf(NIGHT), 'What this report cannot tell')).toEqual([
      'No backup is configured, so nothing here has a second copy that headroomd knows of.',
    ]);
    expect(said(factsOf(NIGHT), 'Arrived')).toEqual(['No footage became ready.']);
  });
});
