import type { Advisory } from '../advise/advisory.ts';
import type { Instant } from '../model.ts';
import { display } from '../present/escape.ts';
import { CLEARED_WORDS } from '../present/wording.ts';
import { formatAge, isoWithOffset } from '../units.ts';
import type { ChannelMessage } from './channel-port.ts';
import type { NewMessage, ReportMessage } from './queue-port.ts';

/** A title is a subject line: what is longer is cut. */
const LONGEST_TITLE = 120;

/** The message of an announcement or a report, for a channel. `zone` (IANA name): whose clocks it tells times by. */
export function messageFor(message: NewMessage | ReportMessage, id: string, zone: string): ChannelMessage {
  if (message.event === 'report') {
    const { event, advisory, title, text, at } = message;
    return { id, event, advisory, title, text, at };
  }
  const { event, advisory, at } = message;
  const safe = escaped(advisory);
  const title = cutTitle(`${opening(event, safe, at)}${sentence(event, safe)}`);
  return { id, event, advisory: safe, title, text: textOf(event, safe, at, zone), at };
}

/** A message that says that it is a test. */
export function testMessage(channel: string, id: string, at: Instant, zone: string): ChannelMessage {
  const title = 'Test message of headroomd';
  const text = [
    `This is a test. It was sent to the channel "${display(channel)}" by hand, at ${clockTime(at, zone)}.`,
    'Nothing is wrong, and nothing is to be done.',
  ].join('\n');
  return { id, event: 'test', advisory: null, title, text, at };
}

function opening(event: NewMessage['event'], { severity, since }: Advisory, at: Instant): string {
  if (event === 'cleared') return 'Over: ';
  if (event === 'worse') return `Worse, ${severity} now: `;
  if (event === 'reminder') return `Still ${severity} after ${formatAge((at - since) / 1000)}: `;
  return `${severity.charAt(0).toUpperCase()}${severity.slice(1)}: `;
}

function sentence(event: NewMessage['event'], advisory: Advisory): string {
  return firstSentence(event === 'cleared' ? CLEARED_WORDS[advisory.kind](advisory.subject) : advisory.message);
}

/** It says the most. */
export function firstSentence(text: string): string {
  return /^.*?[.!?](?=\s+[A-Z0-9])/.exec(text)?.[0] ?? text;
}

/** As long as a title may be; what is cut ends in three dots. */
export function cutTitle(text: string): string {
  const characters = [...text];
  if (characters.length <= LONGEST_TITLE) return text;
  const start = characters.slice(0, LONGEST_TITLE - 3).join('');
  return `${start.replace(/[\s.]+$/, '')}...`;
}

function textOf(event: NewMessage['event'], advisory: Advisory, at: Instant, zone: string): string {
  const { kind, subject, message, remedies, since } = advisory;
  const where = `Where: ${subject}`;
  const first = `Since ${clockTime(since, zone)}`;
  if (event === 'cleared') {
    const was = `It was ${advisory.severity}: ${message}`;
    return [CLEARED_WORDS[kind](subject), was, where, `${first} until ${clockTime(at, zone)}.`].join('\n');
  }
  const todo = remedies.map(({ action, effect }) => `- ${action}: ${effect}.`);
  return [message, where, `${first}.`, ...(todo.length > 0 ? ['What to do:', ...todo] : [])].join('\n');
}

/** `2027-03-04 14:05 +01:00` */
function clockTime(at: Instant, zone: string): string {
  const iso = isoWithOffset(at, zone);
  return `${iso.slice(0, 10)} ${iso.slice(11, 16)} ${iso.slice(23)}`;
}

/** Names and what is read from files are hostile input. */
function escaped(advisory: Advisory): Advisory {
  const figures = Object.entries(advisory.figures).map(([name, value]) => {
    return [display(name), typeof value === 'string' ? display(value) : value];
  });
  return {
    ...advisory,
    id: display(advisory.id),
    subject: display(advisory.subject),
    message: display(advisory.message),
    figures: Object.fromEntries(figures),
    remedies: advisory.remedies.map(({ action, effect }) => ({ action: display(action), effect: display(effect) })),
  };
}
