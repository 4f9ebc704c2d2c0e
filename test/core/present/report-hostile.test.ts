import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { BackupRun } from '../../../src/core/backup/backup-run.ts';
import { noReportSection, reportSection } from '../../../src/core/present/html/report-section.ts';
import { reportOf } from '../../../src/core/present/report.ts';
import { reportText } from '../../../src/core/present/report-text.ts';
import { cardSnapshot } from '../../../src/core/present/snapshot-cards.ts';
import { columns } from '../../../src/core/present/text.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { SAMPLE_CARD, sampleCard } from '../card-samples.ts';
import { sampleArrival, sampleVolume } from '../samples.ts';
import { BACKUP, BUSY, factsOf, NIGHT, SALTMARSH } from './report-story.ts';

const UNSAFE = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069]/u;

describe('whatever names there are', () => {
  const name = fc.oneof(
    fc.string({ unit: 'binary', maxLength: 120 }),
    fc
      .array(fc.constantFrom('\r\nBcc: all@example.org', '\u001b[2J', '\u202e', '<b>', '&', '"', '潮', '🎬', 'A001 '), {
        maxLength: 12,
      })
      .map((parts) => parts.join('')),
  );
  const reports = fc.tuple(name, name, name).map(([one, two, three]) => {
    const advisory = { ...BUSY, severity: 'critical' as const, subject: one, message: `${two} is lost. ${three}` };
    const cards = [
      {
        card: cardSnapshot(sampleCard([], {}, { ...SAMPLE_CARD, name: one, gap: two }), (when) =>
          isoWithOffset(when, 'UTC'),
        ),
        in: [{ volume: one, project: two }],
      },
    ];
    const run = { ...BACKUP, volume: one, shelf: two, failures: 1, stage: 'broken' as const };
    const troubled: BackupRun = {
      ...run,
      troubles: [{ reason: 'failed', path: three, message: one, advice: two, code: null }],
      why: { reason: 'failed', message: three },
    };
    const volumes = [sampleVolume({ name: one, stateDetail: two, state: 'hung' })];
    return {
      ...factsOf(NIGHT, { volumes, arrivals: [sampleArrival({ path: two, stage: 'refused', detail: three })] }, [
        advisory,
      ]),
      ...{ arrived: [{ ...SALTMARSH, volume: one, project: two, notDecoded: 1 }], cards },
      ...{ notDecoded: [{ volume: one, project: two, name: three }], newVolumes: [three] },
      incomplete: [{ volume: one, project: two, takes: [three] }],
      removals: [
        {
          volume: one,
          removal: { hour: 0, area: 'project' as const, project: two, files: 1, bytes: 1, footageBytes: 1 },
        },
      ],
      copies: [
        {
          shelf: three,
          sum: { volume: one, grade: 'device' as const, state: 'good' as const, isNew: true, files: 1, bytes: 1 },
        },
      ],
      runs: [{ kind: 'backup' as const, run: troubled }],
      news: [{ event: 'first' as const, advisory: { ...advisory, id: three }, at: NIGHT.from }],
    };
  });

  test('the text has no control or bidi character and no line that is too wide, and the subject is one line', () => {
    fc.assert(
      fc.property(reports, fc.integer({ min: 40, max: 120 }), (facts, width) => {
        const report = reportOf(facts);
        for (const line of reportText(report, width).split('\n')) {
          expect(line).not.toMatch(UNSAFE);
          expect(columns(line)).toBeLessThanOrEqual(width);
        }
        expect(report.verdict.title).not.toMatch(UNSAFE);
        expect([...report.verdict.title].length).toBeLessThanOrEqual(120);
      }),
    );
  });

  test('the section of the page has no tag but ours, and every text of the JSON is safe to show', () => {
    fc.assert(
      fc.property(reports, (facts) => {
        const report = reportOf(facts);
        const html = [...reportSection(report).blocks, ...noReportSection(report.verdict.title).blocks].map(
          (one) => one.html,
        );
        const tags = html.join('').match(/<[^>]*>/g) ?? [];
        expect(tags.filter((tag) => !/^<\/?(h3|p|strong)>$/.test(tag))).toEqual([]);
        JSON.stringify(report, (_key, value) => {
          if (typeof value === 'string') expect(value).not.toMatch(UNSAFE);
          return value;
        });
      }),
    );
  });
});
