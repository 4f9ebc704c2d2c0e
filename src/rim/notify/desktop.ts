import { type ExecFileException, execFile } from 'node:child_process';
import type { Severity } from '../../core/model.ts';
import type { ChannelMessage, ChannelPort, SendOutcome } from '../../core/notify/channel-port.ts';
import { display } from '../../core/present/escape.ts';

export interface DesktopOptions {
  /** Of the session: `DBUS_SESSION_BUS_ADDRESS`, else `XDG_RUNTIME_DIR` tells where its bus is; `PATH` where `busctl` is. */
  env: Readonly<Record<string, string | undefined>>;
  /** For tests; the default is what is promised. */
  wholeMs?: number;
}

/** Names of the Desktop Notifications Specification 1.2 (freedesktop.org). */
const NAME = 'org.freedesktop.Notifications';
const OBJECT = '/org/freedesktop/Notifications';

/** Its urgency levels: low, normal, critical. */
const URGENCY: Record<Severity, number> = { notice: 0, warning: 1, critical: 2 };

/** A bubble is no letter. */
const LONGEST_BODY = 1_000;

/** So many advisories are remembered with their bubbles; the oldest is let go of. */
const REMEMBERED = 200;

/** The service's own time: critical ones stay by their urgency. */
const EXPIRES = '-1';

/** What a method gave, a value each. */
type Called = { values: unknown[] } | { failed: SendOutcome };

/**
 * Notifications of the desktop session, over its bus, by `busctl` of systemd: it comes with every system whose service manager
 * we are run by, takes its arguments without a shell, and is kept up with the bus. A worse, repeated or ended advisory takes the
 * place of its earlier bubble.
 */
export function desktopChannel({ env, wholeMs = 10_000 }: DesktopOptions): ChannelPort {
  const bubbles = new Map<string, number>();
  const stopping = new AbortController();
  const call: Call = (method, ...values) => busctl({ env, wholeMs, signal: stopping.signal }, method, values);
  return {
    async send(message) {
      if (stopping.signal.aborted) return stopped();
      const able = await call('GetCapabilities');
      if ('failed' in able) return able.failed;
      const isMarkup = able.values.flat().includes('body-markup');
      const subject = message.advisory?.id ?? message.id;
      const told = await call('Notify', 'susssasa{sv}i', ...notify(message, bubbles.get(subject) ?? 0, isMarkup));
      if ('failed' in told) return told.failed;
      keep(bubbles, subject, message, told.values[0]);
      return { sent: true };
    },
    async close() {
      stopping.abort();
    },
  };
}

type Call = (method: string, ...values: string[]) => Promise<Called>;

/** What `Notify` takes, in its order, as `busctl` writes it: arrays begin with their length. */
function notify(message: ChannelMessage, replaces: number, isMarkup: boolean): string[] {
  const body = sendable([...message.text].slice(0, LONGEST_BODY).join(''));
  return [
    ...['headroomd', String(replaces), '', sendable(message.title), isMarkup ? escapeMarkup(body) : body],
    '0',
    ...['2', 'urgency', 'y', String(urgencyOf(message)), 'x-headroomd-message', 's', message.id],
    EXPIRES,
  ];
}

/**
 * Neither a program's argument nor a string of D-Bus can hold a NUL, and systemd takes no message with a noncharacter of Unicode in it
 * (src/basic/utf8.c, from memory): a file with such a name would hold up all that is to be told after it.
 */
function sendable(text: string): string {
  return text.replaceAll('\0', '\ufffd').replace(/\p{Noncharacter_Code_Point}/gu, '\ufffd');
}

/** What is over wakes nobody. */
function urgencyOf({ advisory, event }: ChannelMessage): number {
  if (advisory === null) return URGENCY.warning;
  return event === 'cleared' ? URGENCY.notice : URGENCY[advisory.severity];
}

/** The specification's markup is a subset of XML. */
function escapeMarkup(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
}

function keep(bubbles: Map<string, number>, subject: string, { event, advisory }: ChannelMessage, id: unknown): void {
  bubbles.delete(subject);
  if (advisory === null || event === 'cleared' || typeof id !== 'number') return;
  bubbles.set(subject, id);
  for (const oldest of bubbles.keys()) {
    if (bubbles.size <= REMEMBERED) return;
    bubbles.delete(oldest);
  }
}

interface Running extends Required<DesktopOptions> {
  signal: AbortSignal;
}

function busctl({ env, wholeMs, signal }: Running, method: string, values: string[]): Promise<Called> {
  const address = busAddress(env);
  if (address === null) return Promise.resolve({ failed: later(NO_SESSION) });
  const options = [`--address=${address}`, '--json=short', `--timeout=${wholeMs / 1000}`];
  const args = [...options, 'call', '--', NAME, OBJECT, NAME, method, ...values];
  // Messages of the program are read for what they say: not in another language.
  const small = { PATH: env['PATH'], LC_ALL: 'C.UTF-8' };
  // The program's own time-out is for the answer alone: a bus that hangs holds it up before.
  const limits = { timeout: wholeMs + 1_000, killSignal: 'SIGKILL', maxBuffer: 65_536 } as const;
  return new Promise((resolve) => {
    execFile('busctl', args, { ...limits, cwd: '/', env: small, signal }, (error, out, said) => {
      if (error !== null) return resolve({ failed: signal.aborted ? stopped() : failureOf(error, said) });
      resolve(answerOf(out));
    });
  });
}

/** Where a user's bus is when nobody says so (systemd, dbus.socket). */
function busAddress(env: DesktopOptions['env']): string | null {
  const { DBUS_SESSION_BUS_ADDRESS: address, XDG_RUNTIME_DIR: folder } = env;
  if (address !== undefined && address !== '') return address;
  return folder === undefined || folder === '' ? null : `unix:path=${folder}/bus`;
}

const NO_SESSION =
  'There is no desktop session here: neither DBUS_SESSION_BUS_ADDRESS nor XDG_RUNTIME_DIR is set. Run headroomd as the user who is signed in.';

/** `{ "type": "u", "data": [7] }` */
function answerOf(out: string): Called {
  const unread = `The notification service gave an answer that cannot be read: ${display(out).slice(0, 100)}.`;
  try {
    const { data } = JSON.parse(out) as { data?: unknown };
    return Array.isArray(data) ? { values: data } : { failed: later(unread) };
  } catch {
    return { failed: later(unread) };
  }
}

function failureOf(error: ExecFileException, said: string): SendOutcome {
  if (error.code === 'ENOENT')
    return {
      sent: false,
      retry: false,
      message: 'busctl is not here, which is asked to tell the desktop. Install systemd.',
    };
  const line = display(said.trim().split('\n').at(-1) ?? '').slice(0, 300);
  if (error.killed === true || /timed out/i.test(line))
    return later('The notification service did not answer in time.');
  if (/access denied/i.test(line))
    return { sent: false, retry: false, message: 'The notification service refused it: access denied.' };
  if (/failed to create bus message/i.test(line))
    return { sent: false, retry: false, message: `busctl does not take this message as it is: ${line}.` };
  const why = line === '' ? '' : ` busctl said: ${line.replace(/\.$/, '')}.`;
  return later(`The desktop could not be told; its session may not be running.${why}`);
}

function later(message: string): SendOutcome {
  return { sent: false, retry: true, message };
}

function stopped(): SendOutcome {
  return later('It was stopped in between.');
}
