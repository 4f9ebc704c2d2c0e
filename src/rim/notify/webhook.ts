import { createHmac } from 'node:crypto';
import type { LookupAddress } from 'node:dns';
import { lookup as lookUp } from 'node:dns/promises';
import { type IncomingMessage, type RequestOptions, request as requestPlain } from 'node:http';
import { request as requestSecure } from 'node:https';
import { getCACertificates } from 'node:tls';
import type { ChannelMessage, ChannelPort, SendOutcome } from '../../core/notify/channel-port.ts';
import { messageJson } from '../../core/notify/message-json.ts';
import { kindOf } from './address.ts';
import { whyUnsent } from './web-trouble.ts';

export interface WebhookOptions {
  url: string;
  /** Signs what is sent; `null`: nothing does. */
  secret: string | null;
  /** Certificates (PEM) of authorities that are trusted besides those of the system's Node; `null`: none. */
  ca: string | null;
  /** May the address be a private one, or this machine's own? */
  allowPrivate: boolean;
  /** Which machine speaks. */
  host: string;
  zone: string;
  /** Ms since 1970. */
  now: () => number;
  /** For tests; the defaults are what is promised. */
  connectMs?: number;
  wholeMs?: number;
  resolve?: (host: string) => Promise<LookupAddress[]>;
}

const LONGEST_ANSWER = 64 * 1024;
/** "Too early", "too many" and "took too long" (RFC 9110, RFC 8470, RFC 6585) may be otherwise later. */
const LATER = new Set([408, 425, 429]);

/**
 * POSTs each message to an address as JSON. Follows no redirect. The name is resolved once for each message, and the
 * connection goes to the very address that was checked.
 */
export function webhookChannel(options: WebhookOptions): ChannelPort {
  const closing = new AbortController();
  return {
    send: async (message) => {
      try {
        return await post(message, options, closing.signal);
      } catch (error) {
        if (closing.signal.aborted) return { sent: false, retry: true, message: 'It was stopped in between.' };
        return { sent: false, retry: true, message: whyUnsent(error) };
      }
    },
    close: async () => closing.abort(),
  };
}

async function post(message: ChannelMessage, options: WebhookOptions, closing: AbortSignal): Promise<SendOutcome> {
  const { connectMs = 10_000, wholeMs = 30_000, resolve = allAddresses } = options;
  const url = new URL(options.url);
  const body = Buffer.from(messageJson(message, options));
  const whole = AbortSignal.any([closing, AbortSignal.timeout(wholeMs)]);
  const host = url.hostname.replace(/^\[|\]$/g, '');
  const found = await abortable(resolve(host), AbortSignal.any([whole, AbortSignal.timeout(connectMs)]));
  const { address, why } = chosen(found, url, options.allowPrivate);
  if (address === null) return { sent: false, retry: false, message: why };
  const asked: RequestOptions & { ca?: string[] } = {
    method: 'POST',
    signal: whole,
    // A connection for each message: nothing is left open between two, and none is reused that went stale.
    agent: false,
    headers: { 'content-type': 'application/json', 'content-length': body.length, ...signature(body, options) },
    lookup: (_name, { all }, done) => {
      if (all === true) done(null, [address]);
      else done(null, address.address, address.family);
    },
    ...(options.ca === null ? {} : { ca: [...getCACertificates('default'), options.ca] }),
  };
  return answerTo(url, asked, body, connectMs);
}

/** Of all addresses of the name the first that may be spoken to. */
function chosen(found: readonly LookupAddress[], url: URL, allowPrivate: boolean) {
  const isAllowed = (one: LookupAddress) => {
    const kind = kindOf(one);
    if (url.protocol === 'http:' && kind !== 'loopback') return false;
    return kind === 'public' || (allowPrivate && kind !== 'refused');
  };
  const address = found.find(isAllowed) ?? null;
  const kinds = new Set(found.map(kindOf));
  const isOfHouse = kinds.has('private') || kinds.has('loopback');
  const why =
    isOfHouse && !allowPrivate
      ? 'Its address is a private one or this machine itself; if that is meant, set private = true for this channel.'
      : 'Its address is none that may be spoken to (link-local, multicast, unspecified or reserved, or not this machine without TLS).';
  return { address, why };
}

/** What the receiver can tell the sender by: HMAC-SHA256 (RFC 2104) over the time, a dot and the body. */
function signature(body: Buffer, { secret, now }: WebhookOptions): Record<string, string> {
  if (secret === null) return {};
  const time = String(Math.floor(now() / 1000));
  const hmac = createHmac('sha256', secret).update(`${time}.`).update(body).digest('hex');
  return { 'headroomd-time': time, 'headroomd-hmac-sha256': hmac };
}

function answerTo(url: URL, asked: RequestOptions, body: Buffer, connectMs: number): Promise<SendOutcome> {
  return new Promise((resolve, reject) => {
    const isSecure = url.protocol === 'https:';
    const request = (isSecure ? requestSecure : requestPlain)(url, asked);
    const late = setTimeout(() => request.destroy(new Error('no connection in time')), connectMs);
    request.on('socket', (socket) => {
      socket.once(isSecure ? 'secureConnect' : 'connect', () => clearTimeout(late));
    });
    request.on('close', () => clearTimeout(late));
    request.on('error', reject);
    request.on('response', (response) => {
      readAway(response).then(() => resolve(outcomeOf(response)), reject);
    });
    request.end(body);
  });
}

/** Nobody needs the answer's content; a short one is read so that the other side sees it taken. */
async function readAway(response: IncomingMessage): Promise<void> {
  let bytes = 0;
  for await (const chunk of response) {
    bytes += (chunk as Buffer).length;
    if (bytes > LONGEST_ANSWER) break;
  }
}

function outcomeOf({ statusCode = 0 }: IncomingMessage): SendOutcome {
  if (statusCode >= 200 && statusCode < 300) return { sent: true };
  const retry = LATER.has(statusCode) || statusCode >= 500;
  const redirected = statusCode >= 300 && statusCode < 400;
  const what = redirected
    ? `It answered with a redirect (${statusCode}), and none is followed; give the last address itself.`
    : `It answered with status ${statusCode}.`;
  return { sent: false, retry, message: what };
}

function allAddresses(host: string): Promise<LookupAddress[]> {
  return lookUp(host, { all: true });
}

/** A resolver cannot be ended, but need not be waited for. */
function abortable<T>(work: Promise<T>, signal: AbortSignal): Promise<T> {
  return new Promise((resolve, reject) => {
    const onAbort = () => reject(signal.reason);
    signal.addEventListener('abort', onAbort, { once: true });
    work.then(resolve, reject).finally(() => signal.removeEventListener('abort', onAbort));
  });
}
