import { type Reading, refused, understood } from './reading.ts';

export const CLOCK_PATTERN = '^([01][0-9]|2[0-3]):[0-5][0-9]$';
export const SECRET_PATTERN = '^(/|credential:)';

/** `07:30` as minutes since midnight. */
export function parseClock(text: string): Reading<number> {
  if (new RegExp(CLOCK_PATTERN).test(text)) return understood(Number(text.slice(0, 2)) * 60 + Number(text.slice(3)));
  const short = /^(\d):(\d\d)$/.test(text);
  return refused(short ? `two digits for the hour: 0${text}` : null);
}

/** `22:00-07:00`, which may lead over midnight. */
export function parseHours(text: string): Reading<{ from: number; until: number }> {
  const [first = '', second = '', ...more] = text.split('-');
  const [from, until] = [parseClock(first.trim()), parseClock(second.trim())];
  if (more.length > 0 || !from.ok || !until.ok) return refused();
  if (from.value === until.value) return refused('they begin and end at the same time');
  return understood({ from: from.value, until: until.value });
}

/** An absolute path, or `credential:NAME`. */
export function parseSecretPlace(text: string): Reading<string> {
  if (text.includes('\0')) return refused();
  if (text.startsWith('/')) return understood(text);
  const credential = /^credential:(.*)$/s.exec(text)?.[1];
  if (credential === undefined) return refused('the secret itself does not belong in this file');
  return /^[\w.-]+$/.test(credential) && !/^\.+$/.test(credential)
    ? understood(text)
    : refused('NAME is one plain name');
}

/** A bare mail address. Only what would break a message's head is refused; what exists is the server's to say. */
export function parseRecipient(text: string): Reading<string> {
  if (/[<>]/.test(text)) return refused('the address alone, without a name and without < >');
  return /^[^\s@,;]+@[^\s@,;]+$/.test(text) && !/\p{Cc}/u.test(text) ? understood(text) : refused();
}

/** Does a host's name mean this machine itself? */
export function isLoopback(host: string): boolean {
  const plain = host.replace(/^\[|\]$/g, '').toLowerCase();
  return plain === 'localhost' || plain === '::1' || /^127(\.\d{1,3}){3}$/.test(plain);
}
