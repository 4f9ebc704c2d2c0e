import { advisorySentence, bySnooze, snoozedCount, snoozeSentence } from '../advisory-words.ts';
import type { AdvisorySnapshot, Snapshot } from '../snapshot.ts';
import { SEVERITY_WORDS } from '../wording.ts';
import { type Block, block, type PageSection, type PageState } from './block.ts';
import { actionHtml, escapeHtml, text } from './elements.ts';
import { glanceHtml } from './glance.ts';

import { arrivalBlocks, projectBlocks } from './list-blocks.ts';
import { capacityBlocks, PLAN, safetyBlocks, speedBlocks } from './volume-blocks.ts';

/** Everything on the page, in the order in which one asks. All texts of the snapshot are escaped for display already. `more`: sections after it. */
export function pageState(snapshot: Snapshot, more: readonly PageSection[] = []): PageState {
  const { at } = snapshot;
  return {
    version: snapshot.version,
    title: titleOf(snapshot),
    when: `as of ${at.slice(0, 10)} ${at.slice(11, 19)}`,
    sections: [
      {
        id: 'headroom',
        title: 'Headroom',
        blocks: snapshot.volumes.map((one) => block(`headroom:${one.name}`, glanceHtml(one, at))),
      },
      { id: 'now', title: 'Now', blocks: advisoryBlocks(snapshot) },
      { id: 'speed', title: 'Speed', blocks: snapshot.volumes.flatMap(speedBlocks) },
      {
        id: 'capacity',
        title: 'Capacity',
        blocks: [...snapshot.volumes.flatMap((one, place) => capacityBlocks(one, place, at)), block('plan', PLAN)],
      },
      { id: 'safety', title: 'Safety', blocks: safetyBlocks(snapshot) },
      { id: 'arrivals', title: 'Arrivals', blocks: arrivalBlocks(snapshot) },
      { id: 'projects', title: 'Projects', blocks: projectBlocks(snapshot) },
      ...more,
    ] satisfies PageSection[],
  };
}

/** The worst that speaks first, so that a tab tells it. */
function titleOf({ advisories, volumes }: Snapshot): string {
  const [worst] = bySnooze(advisories).told;
  return `${worst === undefined ? '' : `${SEVERITY_WORDS[worst.severity]}: `}${volumes.map(({ name }) => name).join(', ')} - headroomd`;
}

/** What somebody wants quiet stays in sight, below the others. */
function advisoryBlocks({ advisories, at }: Snapshot): Block[] {
  const { told, snoozed } = bySnooze(advisories);
  const count = snoozedCount(snoozed);
  const shown = (one: AdvisorySnapshot) => block(`advisory:${one.id}`, advisoryHtml(one, at));
  return [
    ...(told.length === 0
      ? [block('quiet', `<p>Nothing ${count === null ? '' : 'new '}to warn of.</p>`)]
      : told.map(shown)),
    ...(count === null ? [] : [block('snoozed', `<h3>${count}</h3>`), ...snoozed.map(shown)]),
  ];
}

function advisoryHtml(advisory: AdvisorySnapshot, at: string): string {
  const { code, remedies, severity } = advisory;
  const snooze = snoozeSentence(advisory, at);
  const todo = remedies.map(({ action, effect }) => `<li>${escapeHtml(`${action}: ${effect}.`)}</li>`).join('');
  const act =
    snooze === null
      ? actionHtml('Snooze', 'snooze', { name: code }, `Snooze ${code}`)
      : actionHtml('Tell again', 'lift', { name: code }, `Tell ${code} again`);
  return `<article class="${snooze === null ? severity : 'snoozed'}"><p><strong>${SEVERITY_WORDS[severity]}</strong> ${escapeHtml(advisorySentence(advisory, at))} ${act}</p>${snooze === null ? '' : text(snooze)}${todo === '' ? '' : `<ul>${todo}</ul>`}</article>`;
}
