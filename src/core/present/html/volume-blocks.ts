import { backupSentence, onlySentence, shelfSentence } from '../backup-words.ts';
import { commandSentence, reportedSentence } from '../command-words.ts';
import { onCardsSentence } from '../kept-card.ts';
import { layoutSentence } from '../layout-words.ts';
import { outlookSentences } from '../outlook-words.ts';
import { overrunSentences } from '../overrun-words.ts';
import { lossSentence, removedSentence, roomNotes, roomSentence } from '../sentences.ts';
import type { Snapshot } from '../snapshot.ts';
import type { VolumeSnapshot } from '../snapshot-volume.ts';
import { loadSentence, playSentence } from '../speed-sentences.ts';
import { verifySentence } from '../verify-words.ts';
import { roomBasis, safetyBasis, speedBasis } from './basis.ts';
import { type Block, block } from './block.ts';
import { actionHtml, paragraph, paragraphWith, plotHtml, text } from './elements.ts';

/** Can I play this? */
export function speedBlocks(volume: VolumeSnapshot, place: number): Block[] {
  const load = loadSentence(volume);
  const layout = layoutSentence(volume);
  const said = [
    paragraphWith(volume.name, playSentence(volume), {
      id: `basis-speed-${place}`,
      about: `the speed of ${volume.name}`,
      sentences: speedBasis(volume),
    }),
    ...(load === null ? [] : [text(load)]),
    ...(layout === null ? [] : [text(layout)]),
  ];
  return [
    block(`speed:${volume.name}`, said.join('')),
    block(
      `speed-plot:${volume.name}`,
      plotHtml(
        'speed',
        { volume: volume.name },
        `${volume.name}, the last 24 hours: what had to be read, and what its drives gave, against what may be asked for`,
      ),
    ),
  ];
}

/** How long have I got? */
export function capacityBlocks(volume: VolumeSnapshot, place: number, at: string): Block[] {
  const removed = removedSentence(volume);
  const said = [
    paragraphWith(volume.name, roomSentence(volume), {
      id: `basis-capacity-${place}`,
      about: `the room of ${volume.name}`,
      sentences: roomBasis(volume, at),
    }),
    ...[...roomNotes(volume), ...overrunSentences(volume, at), ...(removed === null ? [] : [removed])].map(text),
  ];
  return [
    block(`capacity:${volume.name}`, said.join('')),
    block(
      `capacity-plot:${volume.name}`,
      plotHtml(
        'room',
        { volume: volume.name },
        `${volume.name}: what is in use, and how it may go on, against the line of its reserve`,
      ),
    ),
  ];
}

/** What would I lose? */
export function safetyBlocks(snapshot: Snapshot): Block[] {
  const { at, backups, commands, onlyOnShelves, shelves, verifications, volumes } = snapshot;
  return [
    ...volumes.flatMap((volume, place) => [
      block(
        `safety:${volume.name}`,
        [
          paragraphWith(volume.name, safetyWords(volume, at), {
            id: `basis-safety-${place}`,
            about: `the copies of ${volume.name}`,
            sentences: safetyBasis(volume, at),
          }),
          ...outlookSentences(volume, at).map(text),
        ].join(''),
      ),
      block(
        `safety-plot:${volume.name}`,
        plotHtml(
          'exposure',
          { volume: volume.name },
          `${volume.name}, the last 30 days: footage without enough verified copies; a dashed line where copies were read back`,
        ),
      ),
    ]),
    ...backups.map((run) => block(`backup:${run.volume}:${run.shelf}:${run.reason}`, text(backupSentence(run, at)))),
    ...commands.map((one, place) =>
      block(`command:${place}`, [reportedSentence(one, at), commandSentence(one, at) ?? []].flat().map(text).join('')),
    ),
    ...verifications.map((run, place) => block(`reading:${place}`, text(verifySentence(run, at)))),
    ...shelves.map((shelf) =>
      block(
        `shelf:${shelf.name}`,
        `${paragraph(shelf.name, shelfSentence(shelf, at))}${shelf.state === 'ready' || shelf.state === 'new' ? actionHtml(`Back up to ${shelf.name} now`, 'backup', { shelf: shelf.name }) : ''}`,
      ),
    ),
    ...onlyOnShelves.map((only, place) => block(`only:${place}`, text(onlySentence(only)))),
  ];
}

/** What would be lost, and what of it lies on cards still. */
function safetyWords(volume: VolumeSnapshot, at: string): string {
  return [lossSentence(volume, at), onCardsSentence(volume.safety, at)].filter((one) => one !== null).join(' ');
}

/** Asks about a coming shoot. A script sends it; what can be asked is what `headroomd plan` takes. */
export const PLAN = `<details class="act" data-keep="plan"><summary>Would a coming shoot fit?</summary><form data-form="plan" autocomplete="off">
<p>What is left empty is taken from the shoot plan of the configuration.</p>
<label>Project <input name="project" maxlength="200"></label>
<label>First day <input name="from" type="date"></label>
<label>Days <input name="days" type="number" min="1" max="366"></label>
<label>Cameras <input name="cameras" type="number" min="1" max="100"></label>
<label>Format <input name="format" maxlength="100"></label>
<label>Raster <input name="raster" title="such as 3840x2160" maxlength="20"></label>
<label>Frames a second <input name="rate" title="such as 25" maxlength="20"></label>
<label>Hours a day, each camera <input name="hours" type="number" min="0.1" max="24" step="0.1"></label>
<button type="submit">Ask</button> <button type="button" data-action="keep-plan" disabled>Keep this plan</button>
<pre class="answer" role="status" tabindex="0" aria-label="Answer" hidden></pre></form></details>`;
