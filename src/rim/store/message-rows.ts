import type { DatabaseSync } from 'node:sqlite';
import type { Advisory } from '../../core/advise/advisory.ts';
import type { AnnouncedEvent } from '../../core/advise/announce.ts';
import type { Severity } from '../../core/model.ts';
import { rankOf } from '../../core/notify/delivery.ts';
import type { NewMessage, QueuedMessage, TryEnd } from '../../core/notify/queue-port.ts';
import { inTransaction } from './transaction.ts';

export interface MessageRows {
  put(messages: readonly NewMessage[]): void;
  /** Returns how many were dropped. */
  resume(channels: readonly string[]): number;
  next(channel: string, least: Severity): QueuedMessage | null;
  begin(seq: number): void;
  end(seq: number, end: TryEnd): void;
  withdraw(advisories: readonly string[]): void;
}

/** The queue of each channel (`MessageQueuePort`). One row is in memory at a time, however many wait. */
export function openMessageRows(database: DatabaseSync): MessageRows {
  const insert = database.prepare(`
    INSERT INTO ledger.message (channel, advisory, event, rank, json, made_at, handed) VALUES (?, ?, ?, ?, ?, ?, 0)`);
  const replace = database.prepare('DELETE FROM ledger.message WHERE channel = ? AND advisory = ? AND handed = 0');
  const isTold = database.prepare('SELECT 1 FROM ledger.told WHERE channel = ? AND advisory = ?');
  const tell = database.prepare('INSERT OR IGNORE INTO ledger.told VALUES (?, ?)');
  const untell = database.prepare('DELETE FROM ledger.told WHERE channel = ? AND advisory = ?');
  const first = database.prepare(`
    SELECT * FROM ledger.message WHERE channel = ? AND rank >= ? ORDER BY seq LIMIT 1`);
  const one = database.prepare('SELECT channel, advisory, event FROM ledger.message WHERE seq = ?');
  const newer = database.prepare('SELECT 1 FROM ledger.message WHERE channel = ? AND advisory = ? AND seq > ?');
  const hand = database.prepare('UPDATE ledger.message SET handed = ? WHERE seq = ?');
  const remove = database.prepare('DELETE FROM ledger.message WHERE seq = ?');
  const withdraw = database.prepare(`
    DELETE FROM ledger.message WHERE handed = 0 AND advisory IN (SELECT value FROM json_each(?))`);
  const unanswered = database.prepare('SELECT seq FROM ledger.message WHERE handed = 1 ORDER BY seq');
  const strange = 'channel NOT IN (SELECT value FROM json_each(?))';
  const dropMessages = database.prepare(`DELETE FROM ledger.message WHERE ${strange}`);
  const dropTold = database.prepare(`DELETE FROM ledger.told WHERE ${strange}`);

  function putOne({ channel, event, advisory, at }: NewMessage): void {
    replace.run(channel, advisory.id);
    const told = isTold.get(channel, advisory.id) !== undefined;
    if (event === 'cleared' && !told) return;
    // What it was when others were told of it first is nothing to this channel.
    const said = event === 'cleared' || told ? event : 'first';
    insert.run(channel, advisory.id, said, rankOf(advisory.severity), JSON.stringify(advisory), Math.round(at));
  }

  /** Newer news of the same advisory takes the place of what did not go through. */
  function again(seq: number): void {
    const row = one.get(seq);
    if (row === undefined) return;
    if (newer.get(String(row['channel']), String(row['advisory']), seq) === undefined) hand.run(0, seq);
    else remove.run(seq);
  }

  return {
    put: (messages) => messages.forEach(putOne),
    withdraw: (advisories) => void withdraw.run(JSON.stringify(advisories)),
    resume: (channels) =>
      inTransaction(database, () => {
        const known = JSON.stringify(channels);
        const dropped = Number(dropMessages.run(known).changes);
        dropTold.run(known);
        for (const row of unanswered.all()) again(Number(row['seq']));
        return dropped;
      }),
    next(channel, least) {
      const row = first.get(channel, rankOf(least));
      if (row === undefined) return null;
      const advisory = JSON.parse(String(row['json'])) as Advisory;
      const event = String(row['event']) as AnnouncedEvent;
      return { seq: Number(row['seq']), channel, event, advisory, at: Number(row['made_at']) };
    },
    begin: (seq) =>
      inTransaction(database, () => {
        const row = one.get(seq);
        hand.run(1, seq);
        if (row !== undefined && row['event'] !== 'cleared') tell.run(String(row['channel']), String(row['advisory']));
      }),
    end: (seq, end) =>
      inTransaction(database, () => {
        if (end === 'again') return again(seq);
        const row = one.get(seq);
        remove.run(seq);
        if (row?.['event'] === 'cleared') untell.run(String(row['channel']), String(row['advisory']));
      }),
  };
}
