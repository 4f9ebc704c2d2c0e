/** Safe between tags and in quoted attributes. */
export function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}

export function text(sentence: string): string {
  return `<p>${escapeHtml(sentence)}</p>`;
}

export function paragraph(name: string, sentence: string): string {
  return `<p><b>${escapeHtml(name)}</b> ${escapeHtml(sentence)}</p>`;
}

/** A bar from 0 to `end`, filled to `value`, with a line at `limit`. The sentence beside it says the same in words. */
export function barHtml(value: number, limit: number, end: number, label: string): string {
  const share = (part: number) => (100 * Math.min(Math.max(part / end, 0), 1)).toFixed(2);
  const line = limit >= end ? '' : `<rect class="line" x="${share(limit)}" width="0.5" height="6"/>`;
  return `<svg class="bar" role="img" aria-label="${escapeHtml(label)}" viewBox="0 0 100 6" preserveAspectRatio="none"><rect class="all" width="100" height="6"/><rect class="${value > limit ? 'over' : 'used'}" width="${share(value)}" height="6"/>${line}</svg>`;
}

/** Where a figure comes from, for who asks: by the pointer, by a press, or by the keyboard. */
export interface Basis {
  /** Once on the page. */
  id: string;
  about: string;
  sentences: readonly string[];
}

/** A sentence about something (`null`: about all of it), and at its end where its figures come from. */
export function paragraphWith(name: string | null, sentence: string, { id, about, sentences }: Basis): string {
  const label = escapeHtml(`Basis: ${about}`);
  const button = `<button type="button" class="basis" popovertarget="${id}" aria-label="${label}">basis</button>`;
  const note = `<div class="basis-text" popover id="${id}" role="note" aria-label="${label}">${sentences.map(text).join('')}</div>`;
  const whose = name === null ? '' : `<b>${escapeHtml(name)}</b> `;
  return `<p>${whose}${escapeHtml(sentence)} ${button}</p>${note}`;
}

/** Something that can be had done. Shown only where scripts run. `data`: what the script is told; `about`: its name, where the label is not enough. */
export function actionHtml(
  label: string,
  action: string,
  data: Readonly<Record<string, string>>,
  about = label,
): string {
  const told = Object.entries(data).map(([key, value]) => ` data-${key}="${escapeHtml(value)}"`);
  return `<button type="button" class="act" data-action="${action}"${told.join('')}${about === label ? '' : ` aria-label="${escapeHtml(about)}"`}>${escapeHtml(label)}</button>`;
}

/** The place of a plot, which a script draws; its room is kept free before. */
export function plotHtml(kind: string, data: Readonly<Record<string, string>>, label: string): string {
  const told = Object.entries(data).map(([key, value]) => ` data-${key}="${escapeHtml(value)}"`);
  return `<figure class="plot" data-plot="${kind}"${told.join('')}><figcaption>${escapeHtml(label)}</figcaption><div class="canvas"></div><p class="says"></p></figure>`;
}
