import type { Report } from './report.ts';
import { periodSentence, reportParts } from './report-words.ts';
import { wrap } from './text.ts';

/** Lines of a mail are at most 78 long (RFC 5322, 2.1.1); two are left for whoever quotes it once. */
export const MAIL_WIDTH = 76;

/** The whole report as plain text, no line wider than `width` columns (40 at least). The first sentence says whether it was a good night. */
export function reportText(report: Report, width: number): string {
  const columns = Math.max(40, width);
  const parts = reportParts(report).map(({ heading, sentences }) => [
    ...wrap(heading, columns),
    ...sentences.flatMap((sentence) => wrap(sentence, columns, '  ')),
  ]);
  const head = [...wrap(report.verdict.headline, columns), '', ...wrap(periodSentence(report), columns)];
  return `${[head, ...parts].map((lines) => lines.join('\n')).join('\n\n')}\n`;
}
