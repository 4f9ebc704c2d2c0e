import { display } from '../escape.ts';
import type { Report } from '../report.ts';
import { periodSentence, reportParts } from '../report-words.ts';
import type { PageSection } from './block.ts';
import { escapeHtml, text } from './elements.ts';

/** The report of the last day as a section of the page. Everything in it was escaped for display; here it is escaped for HTML. */
export function reportSection(report: Report): PageSection {
  const head = `<p><strong>${escapeHtml(report.verdict.headline)}</strong></p>${text(periodSentence(report))}`;
  const parts = reportParts(report).map(({ heading, sentences }) => ({
    key: `report:${heading}`,
    html: `<h3>${escapeHtml(heading)}</h3>${sentences.map(text).join('')}`,
  }));
  return sectionOf([{ key: 'report:head', html: head }, ...parts]);
}

/** In its place when it could not be made. */
export function noReportSection(why: string): PageSection {
  return sectionOf([{ key: 'report:head', html: text(`It could not be made: ${display(why)}`) }]);
}

/** In its place until the first one is made, a moment after somebody asked for the page. */
export const NO_REPORT_YET = sectionOf([{ key: 'report:head', html: text('It is being put together.') }]);

function sectionOf(blocks: PageSection['blocks']): PageSection {
  return { id: 'report', title: 'Report', blocks };
}
