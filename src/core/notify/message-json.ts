import { isoWithOffset } from '../units.ts';
import type { ChannelMessage } from './channel-port.ts';

/**
 * A message as programs are handed it: one JSON object. Instants are ISO 8601 with offset, in `zone` (IANA name); what is
 * about no advisory has `null` there. `host`: which machine speaks.
 */
export function messageJson(message: ChannelMessage, { host, zone }: { host: string; zone: string }): string {
  const { id, event, at, title, text, advisory } = message;
  const told = advisory === null ? null : { ...advisory, since: isoWithOffset(advisory.since, zone) };
  return JSON.stringify({ id, event, at: isoWithOffset(at, zone), host, title, text, advisory: told });
}
