import type { AdvisoryKind } from '../advise/advisory.ts';
import { snoozeSentence } from './advisory-words.ts';
import { backupSentence, onlySentence, shelfSentence } from './backup-words.ts';
import { commandSentence, reportedSentence } from './command-words.ts';
import { onCardsSentence } from './kept-card.ts';
import { outlookSentences } from './outlook-words.ts';
import { lossSentence } from './sentences.ts';
import type { Snapshot } from './snapshot.ts';
import { wrap } from './text.ts';
import { badCopySentence, verifySentence } from './verify-words.ts';
import { SEVERITY_WORDS } from './wording.ts';

/** Of what is spoken up about, what concerns the shelves as a whole. */
const OF_SHELVES: readonly AdvisoryKind[] = ['shelf-filling', 'single-shelf'];

/** The rest of what was found is in the JSON. */
const MOST_NAMED = 5;

/** What would be lost, what lies where, and how backups go. */
export function backupsScreen(snapshot: Snapshot, width: number): string {
  const { volumes, shelves, backups, at } = snapshot;
  const commands = snapshot.commands ?? [];
  if (shelves.length === 0 && commands.length === 0) {
    return `${wrap('No backup is configured: write a [[shelf]] and a [[backup]] into the configuration. Until then nothing here has a second copy that headroomd knows of.', width).join('\n')}\n`;
  }
  const sections = [
    volumes.flatMap((volume) => [
      ...wrap(lossSentence(volume, at), width, `${volume.name}: `),
      ...wrap(onCardsSentence(volume.safety, at) ?? '', width),
      ...outlookSentences(volume, at).flatMap((sentence) => wrap(sentence, width)),
    ]),
    shelves.flatMap((shelf) => [
      ...wrap(`${shelf.name}, ${shelf.path}`, width),
      ...wrap(shelfSentence(shelf, at), width, '  '),
    ]),
    snapshot.advisories
      .filter(({ kind }) => OF_SHELVES.includes(kind))
      .flatMap((one) => {
        const snooze = snoozeSentence(one, at);
        const said = wrap(one.message, width, `${SEVERITY_WORDS[one.severity]}  `);
        return snooze === null ? said : [...said, ...wrap(snooze, width, '  ')];
      }),
    (snapshot.onlyOnShelves ?? []).flatMap((only) => wrap(onlySentence(only), width)),
    backups.flatMap((run) => [
      ...wrap(backupSentence(run, at), width),
      ...run.altered.flatMap((path) =>
        wrap(
          `${path} is not what was copied before. The first copy stays where it is; look which one is right.`,
          width,
          '  ',
        ),
      ),
    ]),
    ...commands.map((one) => [
      ...wrap(reportedSentence(one, at), width),
      ...wrap(commandSentence(one, at) ?? '', width),
      ...one.troubles.slice(1, MOST_NAMED).flatMap(({ message }) => wrap(`${message}.`, width, '  ')),
    ]),
    ...(snapshot.verifications ?? []).map((run) => [
      ...wrap(verifySentence(run, at), width),
      ...run.bad.slice(0, MOST_NAMED).flatMap((bad) => wrap(badCopySentence(run.shelf, run.volume, bad), width, '  ')),
      ...run.goneFirst
        .slice(0, MOST_NAMED)
        .flatMap((path) => wrap(`${run.shelf}: ${path} is gone; somebody took it away.`, width, '  ')),
    ]),
  ];
  return `${sections
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join('\n'))
    .join('\n\n')}\n`;
}
