import { display } from './escape.ts';
import type { Report } from './report.ts';
import { periodSentence, reportParts } from './report-words.ts';

/** The report as a section of the page. Everything in it was escaped for display; here it is escaped for HTML. */
export function reportSection(report: Report): string {
  const parts = reportParts(report).map(
    ({ heading, sentences }) => `<h3>${escaped(heading)}</h3>${sentences.map(paragraph).join('')}`,
  );
  const head = `<p><strong>${escaped(report.verdict.headline)}</strong></p>${paragraph(periodSentence(report))}`;
  return `<section aria-labelledby="report"><h2 id="report">Report</h2>${head}${parts.join('')}</section>`;
}

/** In its place when it could not be made. */
export function noReportSection(why: string): string {
  return `<section aria-labelledby="report"><h2 id="report">Report</h2>${paragraph(`It could not be made: ${display(why)}`)}</section>`;
}

function paragraph(sentence: string): string {
  return `<p>${escaped(sentence)}</p>`;
}

/** Safe between tags and in quoted attributes. */
function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}
