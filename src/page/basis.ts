import { all } from './patch.ts';

/** How long a pointer must rest on it: one that only passes opens nothing. */
const RESTS_MS = 300;
const EDGE_PX = 8;

/**
 * Where a figure comes from opens by a press or a key without any script. With it, it opens beside the button, and by a pointer that
 * rests there; it stays while the pointer is on it, and Escape closes it (WCAG 2.2, 1.4.13).
 */
export function startBasis(): void {
  let opening: ReturnType<typeof setTimeout> | undefined;

  document.addEventListener('pointerover', (event) => {
    const button = basisButton(event.target);
    clearTimeout(opening);
    if (button === null || event.pointerType !== 'mouse') return;
    opening = setTimeout(() => {
      const note = noteOf(button);
      if (note === null || note.matches(':popover-open')) return;
      note.showPopover({ source: button });
      note.dataset['hover'] = '';
    }, RESTS_MS);
  });

  document.addEventListener('pointerout', (event) => {
    const onto = event.relatedTarget instanceof Element ? event.relatedTarget : null;
    for (const note of all('.basis-text:popover-open[data-hover]')) {
      const button = buttonOf(note);
      if (onto === null || !(note.contains(onto) || button?.contains(onto) === true)) note.hidePopover();
    }
  });

  document.addEventListener(
    'toggle',
    (event) => {
      const note = event.target instanceof HTMLElement ? event.target : null;
      if (note?.classList.contains('basis-text') !== true) return;
      if (note.matches(':popover-open')) place(note);
      else delete note.dataset['hover'];
    },
    true,
  );
  document.addEventListener('scroll', () => all('.basis-text:popover-open').forEach(place), { passive: true });
}

/** Below its button, or above it where there is no room. */
function place(note: HTMLElement): void {
  const button = buttonOf(note);
  if (button === null) return;
  const at = button.getBoundingClientRect();
  const { width, height } = note.getBoundingClientRect();
  const left = Math.max(EDGE_PX, Math.min(at.left, document.documentElement.clientWidth - width - EDGE_PX));
  const fitsBelow = at.bottom + height + EDGE_PX < document.documentElement.clientHeight;
  note.style.left = `${left}px`;
  note.style.top = `${fitsBelow ? at.bottom : Math.max(EDGE_PX, at.top - height)}px`;
}

function basisButton(target: EventTarget | null): HTMLElement | null {
  return target instanceof Element ? target.closest<HTMLElement>('button.basis') : null;
}

function noteOf(button: HTMLElement): HTMLElement | null {
  return document.getElementById(button.getAttribute('popovertarget') ?? '');
}

function buttonOf(note: HTMLElement): HTMLElement | null {
  return all('button.basis').find((one) => one.getAttribute('popovertarget') === note.id) ?? null;
}
