import { Fault } from '../core/fault.ts';
import { cardList } from '../core/present/card-list.ts';
import { cardSentence } from '../core/present/card-sentences.ts';
import { display, terminalJson } from '../core/present/escape.ts';
import { keptSentence } from '../core/present/kept-card.ts';
import type { CardSnapshot, UnseenSnapshot } from '../core/present/snapshot-cards.ts';
import { wrap } from '../core/present/text.ts';
import { composeClient, type DaemonClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, sentence, textWidth } from './io.ts';
import { personName } from './person.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface CardOptions {
  state?: string;
  json?: boolean;
  drop?: string;
  kept?: boolean;
  notKept?: boolean;
}

interface CardsAnswer {
  at: string;
  cards: CardSnapshot[];
  unseen: UnseenSnapshot[];
}

/** `headroomd card`: every card and list that is kept, or one, with what of it is not here; or hears no more of one. */
export async function cardVerb(io: CliIo, name: string | undefined, options: CardOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  const answer = (await client.ask('/api/cards')) as CardsAnswer | null;
  if (answer === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  if (options.kept || options.notKept) return say(io, client, name, options, answer);
  const known = name === undefined ? answer : { cards: called(name, answer.cards), unseen: [] };
  const told = options.drop === undefined ? known.cards : [await drop(client, options.drop, answer.cards)];
  if (options.json) io.out(`${terminalJson(told)}\n`);
  else if (options.drop === undefined) io.out(cardList(known, answer.at, textWidth(io)));
  else {
    const words = told.map((card) => sentence(io, `No longer told: ${cardSentence(card, answer.at)}`));
    io.out(`${words.join('')}No file was touched.\n`);
  }
  return exitCodes.ok;
}

/** A person says that a card is kept as it is, or no longer. */
async function say(
  io: CliIo,
  client: DaemonClient,
  name: string | undefined,
  { kept: isKept = false, json = false }: CardOptions,
  { at, cards, unseen }: CardsAnswer,
): Promise<number> {
  const verb = isKept ? '--kept' : '--not-kept';
  if (name === undefined) throw new Fault('usage', `name the card: headroomd card NAME ${verb}`);
  const folder = unseen.find(({ path }) => path === display(name) || path.endsWith(`/${display(name)}`));
  if (folder !== undefined && !cards.some((card) => card.id === name || card.name === display(name))) {
    const why = 'the card itself was never read, so that nobody knows what is on it';
    throw new Fault(
      'failed',
      `of ${folder.path} on ${folder.volume} ${why}; put it in, then say so again. Nothing was noted.`,
    );
  }
  // A list of what is on a card is often called as the card is.
  const found = called(name, cards);
  const real = found.filter(({ source }) => source === 'card');
  const [card, other] = real.length > 0 ? real : found;
  if (card === undefined || other !== undefined) {
    throw new Fault(
      'failed',
      `several are called ${name}: ${whichThereAre(cards)}; say which by its id. Nothing was noted.`,
    );
  }
  const ask = { id: card.id, by: isKept ? personName() : null };
  const told = (await client.tell('/api/cards/kept', ask)) as { card: CardSnapshot } | { problem: string } | null;
  if (told === null || 'problem' in told) {
    throw new Fault('failed', `${told?.problem ?? 'the daemon ended meanwhile'}. Nothing was noted.`);
  }
  const { name: title, id, kept } = told.card;
  const words = isKept
    ? `Noted. Card ${title}: ${keptSentence(id, kept, told.card.kept?.saidAt ?? at) ?? ''} It is no verified copy: what is exposed stays exposed.`
    : `Card ${title} is not counted as kept any more. No file was touched.`;
  io.out(json ? `${terminalJson([told.card])}\n` : `${wrap(words, textWidth(io)).join('\n')}\n`);
  return exitCodes.ok;
}

/** Only the exact id: names may be given twice. */
async function drop(client: DaemonClient, id: string, cards: readonly CardSnapshot[]): Promise<CardSnapshot> {
  const answer = (await client.tell('/api/cards/drop', { id })) as { dropped: CardSnapshot | null } | null;
  const dropped = answer?.dropped ?? null;
  if (dropped !== null) return dropped;
  throw new Fault('failed', `no card or list has the id ${id}; ${whichThereAre(cards)}. Nothing was dropped.`);
}

/** By name, or by id; a card that was formatted may be kept several times under one name. */
function called(name: string, cards: readonly CardSnapshot[]): CardSnapshot[] {
  const found = cards.filter((card) => card.id === name || card.name === display(name));
  if (found.length > 0) return found;
  throw new Fault('failed', `no card or list is called ${name}; ${whichThereAre(cards)}.`);
}

function whichThereAre(cards: readonly CardSnapshot[]): string {
  const known = cards.map((card) => `${card.id} (${card.name})`);
  return known.length === 0 ? 'none is kept' : `there are ${known.join(', ')}`;
}
