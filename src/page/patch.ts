import type { PageChange } from '../core/present/html/block.ts';

/**
 * Puts what is other in the place of what was. Who reads on keeps their place: what has the focus keeps it, an open basis stays open, and
 * what was unfolded stays so. True when elements came or went.
 */
export function patchPage({ blocks, orders, title, when }: PageChange): boolean {
  document.title = title;
  setText('when', when);
  let isOther = false;
  const known = new Map(all('[data-block]').map((block) => [block.dataset['block'] ?? '', block]));
  for (const [key, { html, mark }] of Object.entries(blocks)) {
    const block = known.get(key) ?? newBlock(key);
    known.set(key, block);
    if (block.dataset['mark'] === mark) continue;
    replaceContent(block, html);
    block.dataset['mark'] = mark;
    isOther = true;
  }
  for (const [id, keys] of Object.entries(orders)) {
    const section = all(`[data-section]`).find((one) => one.dataset['section'] === id);
    if (section === undefined) continue;
    isOther =
      arrange(
        section,
        keys.flatMap((key) => known.get(key) ?? []),
      ) || isOther;
  }
  return isOther;
}

/** Moves nothing that is in its place already: what is moved loses the focus. True when something was moved or went. */
function arrange(section: HTMLElement, wanted: readonly HTMLElement[]): boolean {
  let isOther = false;
  const keep = new Set<Element>(wanted);
  for (const child of [...section.children]) {
    if (keep.has(child)) continue;
    child.remove();
    isOther = true;
  }
  let place = section.firstElementChild;
  for (const block of wanted) {
    if (block === place) place = place.nextElementSibling;
    else {
      section.insertBefore(block, place);
      isOther = true;
    }
  }
  return isOther;
}

function replaceContent(block: HTMLElement, html: string): void {
  const focused =
    document.activeElement instanceof HTMLElement && block.contains(document.activeElement)
      ? document.activeElement
      : null;
  const focusedBy = focused === null ? null : nameOf(focused);
  const open = new Set(all(':popover-open', block).map(({ id }) => id));
  const unfolded = new Set(all('details[open]', block).map(({ dataset }) => dataset['keep'] ?? ''));
  // The server escapes every name in it; it is the same that made the page.
  block.innerHTML = html;
  for (const details of all('details', block))
    if (unfolded.has(details.dataset['keep'] ?? '')) details.setAttribute('open', '');
  for (const id of open) document.getElementById(id)?.showPopover();
  if (focusedBy !== null)
    all('button, summary, input, a, [tabindex]', block)
      .find((one) => nameOf(one) === focusedBy)
      ?.focus({ preventScroll: true });
}

function newBlock(key: string): HTMLElement {
  const block = document.createElement('div');
  block.dataset['block'] = key;
  return block;
}

/** What tells an element that can have the focus from its neighbours. */
function nameOf(element: HTMLElement): string {
  return [
    element.tagName,
    element.getAttribute('aria-label') ?? element.textContent ?? '',
    element.getAttribute('name') ?? '',
  ].join('|');
}

export function setText(id: string, text: string): void {
  const element = document.getElementById(id);
  if (element !== null && element.textContent !== text) element.textContent = text;
}

export function all(selector: string, within: ParentNode = document): HTMLElement[] {
  return [...within.querySelectorAll<HTMLElement>(selector)];
}
