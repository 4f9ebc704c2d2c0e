import type { Severity } from '../../core/model.ts';
import type { ChannelMessage } from '../../core/notify/channel-port.ts';
import { rankOf } from '../../core/notify/delivery.ts';
import { messageFor } from '../../core/notify/message.ts';
import type { NewMessage } from '../../core/notify/queue-port.ts';

/** Held in memory at the most; more than is ever raised at once, but for a card full of refused files. */
const most = 200;

/** What one channel is to be told while the ledger refuses to keep it: the newest of each advisory. Lost when the daemon ends. */
export interface Unkept {
  add(message: NewMessage, zone: string): void;
  first(least: Severity): { message: ChannelMessage; remove(): void } | null;
  /** Nobody is to be told of these any more. */
  drop(advisories: readonly string[]): void;
}

export function createUnkept(): Unkept {
  const held = new Map<string, { message: ChannelMessage; rank: number }>();
  let made = 0;
  return {
    add(message, zone) {
      const { advisory, at } = message;
      held.delete(advisory.id);
      made += 1;
      const id = `${Math.round(at)}-unkept-${made}`;
      if (held.size < most)
        held.set(advisory.id, { message: messageFor(message, id, zone), rank: rankOf(advisory.severity) });
    },
    first(least) {
      for (const [advisory, entry] of held) {
        if (entry.rank < rankOf(least)) continue;
        const remove = () => void (held.get(advisory) === entry && held.delete(advisory));
        return { message: entry.message, remove };
      }
      return null;
    },
    drop(advisories) {
      for (const advisory of advisories) held.delete(advisory);
    },
  };
}
