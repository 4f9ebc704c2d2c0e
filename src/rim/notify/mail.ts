import { getCACertificates } from 'node:tls';
import { createTransport } from 'nodemailer';
import type { ChannelMessage, ChannelPort, SendOutcome } from '../../core/notify/channel-port.ts';
import { display } from '../../core/present/escape.ts';

export interface MailOptions {
  server: { host: string; port: number };
  /** `none` is for this machine alone: the settings see to that. Neither of the others ever falls back to it. */
  security: 'tls' | 'starttls' | 'none';
  from: string;
  to: readonly string[];
  login: { user: string; password: string } | null;
  /** Certificates (PEM) of authorities besides those known everywhere. */
  ca: string | null;
  /** Name of this machine. */
  host: string;
  /** For each step of the conversation; for tests, the default is what is promised. */
  stepMs?: number;
  /** For the whole conversation: one who says something now and then would hold it up for ever. */
  wholeMs?: number;
}

const UNKNOWN_AUTHORITY =
  'Its certificate is of an authority that is not known here; name the file of its certificates with ca_file.';

const SELF_SIGNED =
  'Its certificate is self-signed: nobody else vouches for it. If it is the right one, name its file with ca_file.';

/** What the library keeps of errors of TLS is their message. */
const CERTIFICATE: readonly [RegExp, string][] = [
  [/certificate has expired/i, 'Its certificate has expired.'],
  [/altnames/i, 'Its certificate is for another name than its host has.'],
  [/self.signed certificate(?! in)/i, SELF_SIGNED],
  [/self.signed|unable to (verify|get)/i, UNKNOWN_AUTHORITY],
];

const CODES: Readonly<Record<string, string>> = {
  ECONNECTION: 'The connection failed, or was ended without an answer.',
  ESOCKET: 'The connection failed.',
  ETIMEDOUT: 'It did not answer in time.',
  EDNS: 'Its name is not known (DNS).',
  ETLS: 'It does not offer TLS as we need it (STARTTLS).',
};

/** Plain text by SMTP, a connection for each message. */
export function mailChannel(options: MailOptions): ChannelPort {
  const transport = createTransport(transportOf(options));
  const stopping = Promise.withResolvers<SendOutcome>();
  let closed = false;
  return {
    send(message) {
      if (closed) return stopping.promise;
      const sent = deliver(() => transport.sendMail(mailOf(message, options)));
      return inTime(Promise.race([stopping.promise, sent]), options.wholeMs ?? 90_000);
    },
    async close() {
      closed = true;
      stopping.resolve({ sent: false, retry: true, message: 'It was stopped in between.' });
      transport.close();
    },
  };
}

function transportOf({ server, security, login, ca, host, stepMs = 20_000 }: MailOptions) {
  return {
    ...server,
    name: atom(host),
    secure: security === 'tls',
    requireTLS: security === 'starttls',
    ignoreTLS: security === 'none',
    ...(login === null ? {} : { auth: { user: login.user, pass: login.password } }),
    // Not even the environment (NODE_TLS_REJECT_UNAUTHORIZED) takes the check away.
    tls: { rejectUnauthorized: true, ...(ca === null ? {} : { ca: [...getCACertificates('default'), ca] }) },
    ...{ dnsTimeout: stepMs, connectionTimeout: stepMs, greetingTimeout: stepMs, socketTimeout: stepMs },
    // A message is text of ours: nothing in it may have a file or an address read.
    ...{ disableFileAccess: true, disableUrlAccess: true },
  };
}

function mailOf({ id, title, text, at }: ChannelMessage, { from, to, host }: MailOptions) {
  return {
    from,
    to: [...to],
    // A name may look like an encoded word (RFC 2047, 2), and would be read as something else.
    subject: title.replaceAll('=?', '= ?'),
    text: `${text}\n`,
    date: new Date(at),
    // The same for each try: who gets one twice can tell (RFC 5322, 3.6.4).
    messageId: `<${atom(id)}@${atom(host)}>`,
    headers: {
      // RFC 3834: no machine is to answer it.
      'Auto-Submitted': 'auto-generated',
    },
  };
}

/** RFC 5322, 3.2.3: what may stand in an identifier without quotes. */
function atom(text: string): string {
  return text.replace(/[^A-Za-z0-9.-]/g, '-').replace(/^\.+|\.+$|\.(?=\.)/g, '-');
}

/** What is given up here may still be taken there: it is known by its `Message-ID` when it comes again. */
async function inTime(sending: Promise<SendOutcome>, ms: number): Promise<SendOutcome> {
  const late = Promise.withResolvers<SendOutcome>();
  const timer = setTimeout(() => late.resolve({ sent: false, retry: true, message: 'It did not answer in time.' }), ms);
  try {
    return await Promise.race([sending, late.promise]);
  } finally {
    clearTimeout(timer);
  }
}

async function deliver(send: () => Promise<{ rejected: unknown[] }>): Promise<SendOutcome> {
  try {
    const { rejected } = await send();
    if (rejected.length === 0) return { sent: true };
    const who = rejected.map((one) => display(addressOf(one))).join(', ');
    // Sent again it would come twice to those who got it.
    return { sent: false, retry: false, message: `The server took it for the others, and refused it for ${who}.` };
  } catch (error) {
    return failureOf(error);
  }
}

const addressOf = (one: unknown): string => (typeof one === 'string' ? one : String(Object(one).address));

/**
 * RFC 5321, 4.2.1: 4yz may go through later, 5yz will not. A reply may repeat what was said to the server: to signing in, that is the
 * password, so of such a one only the code is told.
 */
function failureOf(error: unknown): SendOutcome {
  const { code, responseCode, response, message } = Object(error) as Record<string, unknown>;
  if (code === 'EAUTH') {
    const isLater = typeof responseCode !== 'number' || responseCode < 500;
    const words = isLater ? 'The server let nobody sign in just now' : 'The server refused the user or the password';
    return { sent: false, retry: isLater, message: `${words} (${display(String(responseCode ?? code))}).` };
  }
  if (typeof responseCode === 'number' && code !== 'ETLS') {
    const reply = display(String(response ?? ''))
      .slice(0, 200)
      .replace(/\.$/, '');
    return { sent: false, retry: responseCode < 500, message: `The server said: ${reply}.` };
  }
  const certificate = CERTIFICATE.find(([pattern]) => pattern.test(String(message)))?.[1];
  const words = certificate ?? CODES[String(code)] ?? `The mail could not be sent (${display(String(code))}).`;
  return { sent: false, retry: true, message: words };
}
