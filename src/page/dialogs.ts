const HOUR_MS = 3_600_000;

/** For how long; without any it is known: quiet until it is over or gets worse. */
const TIMES: readonly (readonly [label: string, ms: number | null])[] = [
  ['for an hour', HOUR_MS],
  ['for 4 hours', 4 * HOUR_MS],
  ['for a day', 24 * HOUR_MS],
  ['for a week', 7 * 24 * HOUR_MS],
  ['it is known: until it is over or gets worse', null],
];

/** Whether the person says yes; Escape says no. */
export async function confirmed(what: string, means: string, yes: string): Promise<boolean> {
  return (await asked(what, [wordsOf(means)], yes)) !== null;
}

/** Until when, ms since 1970 (`null`: it is known), and why; `null`: not at all. */
export async function askSnooze(name: string): Promise<{ until: number | null; reason: string } | null> {
  const time = document.createElement('select');
  time.name = 'time';
  for (const [place, [label]] of TIMES.entries()) time.append(new Option(label, String(place)));
  const reason = document.createElement('input');
  Object.assign(reason, { name: 'reason', maxLength: 200 });
  const about = wordsOf(
    'What is critical comes back within a day; what gets worse speaks at once. To say that it is known takes a reason.',
  );
  const fields = await asked(
    `Quiet about ${name}?`,
    [about, labelled('How long', time), labelled('Reason', reason)],
    'Snooze',
  );
  if (fields === null) return null;
  const ms = TIMES[Number(fields.get('time'))]?.[1] ?? null;
  return { until: ms === null ? null : Date.now() + ms, reason: String(fields.get('reason') ?? '') };
}

/** What was filled in, when the person went on; `null`: they did not. */
function asked(what: string, parts: readonly HTMLElement[], yes: string): Promise<FormData | null> {
  const dialog = document.getElementById('asks');
  if (!(dialog instanceof HTMLDialogElement)) return Promise.resolve(null);
  const heading = Object.assign(document.createElement('h2'), { id: 'asks-what', textContent: what });
  const form = Object.assign(document.createElement('form'), { method: 'dialog' });
  const no = Object.assign(document.createElement('button'), { type: 'button', textContent: 'No' });
  const go = Object.assign(document.createElement('button'), { value: 'yes', textContent: yes });
  no.addEventListener('click', () => dialog.close('no'));
  form.append(...parts, no, ' ', go);
  dialog.replaceChildren(heading, form);
  dialog.returnValue = 'no';
  dialog.showModal();
  return new Promise((resolve) =>
    dialog.addEventListener('close', () => resolve(dialog.returnValue === 'yes' ? new FormData(form) : null), {
      once: true,
    }),
  );
}

function wordsOf(text: string): HTMLElement {
  return Object.assign(document.createElement('p'), { textContent: text });
}

function labelled(name: string, field: HTMLElement): HTMLElement {
  const label = document.createElement('label');
  label.append(`${name} `, field);
  const line = document.createElement('p');
  line.append(label);
  return line;
}
