import type { Snapshot } from '../snapshot.ts';
import { markOf, type PageSection } from './block.ts';
import { escapeHtml } from './elements.ts';
import { pageState } from './sections.ts';

/**
 * The snapshot as one page: the headrooms of each volume, advisories, then Speed, Capacity, Safety, Arrivals, Projects. It can be read
 * whole without scripts; with them it stays as things are, and plots are drawn. Everything in it was escaped for display; here it is
 * escaped for HTML. `more`: sections after those of the snapshot.
 */
export function htmlPage(snapshot: Snapshot, more: readonly PageSection[] = []): string {
  const { title, when, sections } = pageState(snapshot, more);
  return `<!doctype html>
<html lang="en" data-version="${escapeHtml(snapshot.version)}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<noscript><meta http-equiv="refresh" content="10"></noscript>
<title>${escapeHtml(title)}</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/page.css">
<script type="module" src="/page.js"></script>
</head>
<body>
<header><h1>headroomd</h1><p id="when">${escapeHtml(when)}</p></header>
<p id="stale" role="status"></p>
<main>
${sections.map(sectionHtml).join('\n')}
</main>
<footer><p>headroomd warns; it does not replace a second copy. Never erase a card on its word alone. Version ${escapeHtml(snapshot.version)}.</p></footer>
<dialog id="asks" aria-labelledby="asks-what"></dialog>
<p id="said" role="status"></p>
</body>
</html>
`;
}

function sectionHtml({ id, title, blocks }: PageSection): string {
  const shown = blocks.map(
    ({ key, html }) => `<div data-block="${escapeHtml(key)}" data-mark="${markOf(html)}">${html}</div>`,
  );
  return `<section aria-labelledby="${id}"><h2 id="${id}">${title}</h2><div data-section="${id}">${shown.join('')}</div></section>`;
}
