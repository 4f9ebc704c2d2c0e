import type { PlanSnapshot } from '../core/present/plan-json.ts';
import { planScreen } from '../core/present/plan-screen.ts';
import { getJson, postJson } from './ask.ts';
import { askSnooze, confirmed } from './dialogs.ts';
import { setText } from './patch.ts';

type Snoozed = { kept: boolean } | { problem: string };

type Told = { answer: PlanSnapshot } | { problem: string };

/** Columns of a plan's answer. */
const ANSWER_WIDTH = 72;

/** What can be had done from the page. Everything that takes long, or stays, is asked before. */
export function startActions(): void {
  document.addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest<HTMLElement>('[data-action]') : null;
    if (button === null) return;
    const { action, name = '', shelf = '' } = button.dataset;
    if (action === 'backup') void backUp(shelf);
    if (action === 'snooze') void snooze(name);
    if (action === 'lift') void lift(name);
    if (action === 'keep-plan') void keepPlan(button.closest('form'));
  });
  document.addEventListener('submit', (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || form.dataset['form'] !== 'plan') return;
    event.preventDefault();
    void askPlan(form);
  });
  document.addEventListener('input', (event) => {
    const form =
      event.target instanceof Element ? event.target.closest<HTMLFormElement>('form[data-form="plan"]') : null;
    // Kept is what was answered, never what was typed since.
    if (form !== null) setKeepable(form, false);
  });
}

async function backUp(shelf: string): Promise<void> {
  const yes = await confirmed(
    `Back up to ${shelf} now?`,
    'It copies what the shelf lacks and reads it back. That may take hours; playback goes first, and it waits meanwhile.',
    'Back up',
  );
  if (!yes) return;
  await tellingHow(async () => {
    const told = await postJson<{ begun: string[] } | { problem: string }>('/api/backup/now', { shelf });
    return 'problem' in told ? told.problem : `Begun: ${told.begun.join(', ')}.`;
  });
}

async function snooze(name: string): Promise<void> {
  const asked = await askSnooze(name);
  if (asked === null) return;
  await tellingHow(async () => {
    const told = await postJson<Snoozed>('/api/snooze', { names: [name], ...asked });
    return 'problem' in told
      ? `${told.problem}.`
      : `${name} is quiet from now on${told.kept ? '' : ', until headroomd is started again: its state cannot be written'}.`;
  });
}

async function lift(name: string): Promise<void> {
  await tellingHow(async () => {
    const told = await postJson<Snoozed>('/api/snooze/lift', { names: [name] });
    return 'problem' in told ? `${told.problem}.` : `${name} is told again.`;
  });
}

async function askPlan(form: HTMLFormElement): Promise<void> {
  const output = form.querySelector<HTMLElement>('.answer');
  if (output === null) return;
  const question = JSON.stringify(questionIn(form));
  const told = await getJson<Told>(`/api/plan?ask=${encodeURIComponent(question)}`).catch(
    (error: Error): Told => ({ problem: error.message }),
  );
  output.hidden = false;
  output.textContent = 'problem' in told ? told.problem : planScreen(told.answer, ANSWER_WIDTH);
  // What was typed while the answer was on its way was not answered.
  setKeepable(form, 'answer' in told && question === JSON.stringify(questionIn(form)));
}

async function keepPlan(form: HTMLFormElement | null): Promise<void> {
  if (form === null) return;
  const yes = await confirmed(
    'Keep this plan?',
    'From now on the forecast reckons with it. "headroomd plan PROJECT --forget" takes that back.',
    'Keep it',
  );
  if (!yes) return;
  await tellingHow(async () => {
    const told = await postJson<Told>('/api/plan/keep', questionIn(form));
    return 'problem' in told ? told.problem : `The plan of ${told.answer.project} is kept.`;
  });
}

/** What is left out is as in the shoot plan of the configuration, as with `headroomd plan`. */
function questionIn(form: HTMLFormElement): Record<string, unknown> {
  const fields = new FormData(form);
  const said = (name: string) => String(fields.get(name) ?? '').trim();
  const figure = (name: string) => (said(name) === '' ? undefined : Number(said(name)));
  const words = (name: string) => (said(name) === '' ? undefined : said(name));
  return {
    ...{ project: words('project'), from: words('from'), days: figure('days'), cameras: figure('cameras') },
    ...{ format: words('format'), raster: words('raster'), rate: words('rate'), hours: figure('hours') },
  };
}

function setKeepable(form: HTMLFormElement, can: boolean): void {
  const keep = form.querySelector<HTMLButtonElement>('[data-action="keep-plan"]');
  if (keep !== null) keep.disabled = !can;
}

async function tellingHow(run: () => Promise<string>): Promise<void> {
  setText('said', await run().catch((error: Error) => `That was not done: ${error.message}`));
}
