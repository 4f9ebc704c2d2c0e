import { execFileSync } from 'node:child_process';
import { createHmac } from 'node:crypto';
import type { AddressInfo } from 'node:net';
import { createServer } from 'node:net';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { messageFor } from '../../../src/core/notify/message.ts';
import { type WebhookOptions, webhookChannel } from '../../../src/rim/notify/webhook.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { type Facility, facility, type SecureServer, secureServer } from './facility.ts';

const message = messageFor(
  { channel: 'gallery', event: 'first', advisory: advisoryOf('stripe'), at: 1_804_183_200_000 },
  '1804183200000-7',
  'Europe/Rome',
);

let house: Facility;
beforeAll(() => {
  house = facility();
});
afterAll(() => house.clear());

/** Sends to `told.test`, which is this machine: nothing outside is asked for. */
function send(port: number, more: Partial<WebhookOptions> = {}) {
  const channel = webhookChannel({
    ...{ url: `https://told.test:${port}/told?key=secret-part`, secret: null, ca: house.ca, allowPrivate: true },
    ...{ host: 'edit-1', zone: 'Europe/Rome', now: () => 1_804_183_260_999, connectMs: 1_000, wholeMs: 2_000 },
    resolve: async () => [{ address: '127.0.0.1', family: 4 }],
    ...more,
  });
  return channel.send(message).finally(() => channel.close());
}

async function serving(server: Promise<SecureServer>, body: (server: SecureServer) => Promise<void>): Promise<void> {
  const running = await server;
  try {
    await body(running);
  } finally {
    await running.close();
  }
}

test('a signed message arrives whole, and openssl comes to the same signature', () =>
  serving(secureServer(house.certificate('told.test', 1), 200), async ({ port, received }) => {
    expect(await send(port, { secret: 'a secret of the facility' })).toEqual({ sent: true });
    expect(received).toHaveLength(1);
    const [{ headers, body } = { headers: {}, body: '' }] = received;
    expect(JSON.parse(body)).toMatchObject({ id: '1804183200000-7', event: 'first', host: 'edit-1' });
    expect(headers).toMatchObject({ 'content-type': 'application/json', 'headroomd-time': '1804183260' });
    const input = `${headers['headroomd-time']}.${body}`;
    const told = execFileSync('openssl', ['dgst', '-sha256', '-hmac', 'a secret of the facility'], { input });
    expect(String(told).trim().split('= ')[1]).toBe(headers['headroomd-hmac-sha256']);
  }));

// RFC 4231, test cases 1 and 2: the primitive that signs, and openssl beside it, are HMAC-SHA-256 as published.
test.each([
  ['\x0b'.repeat(20), 'Hi There', 'b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7'],
  ['Jefe', 'what do ya want for nothing?', '5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843'],
])('RFC 4231: key %j', (key, data, expected) => {
  expect(createHmac('sha256', key).update(data).digest('hex')).toBe(expected);
  const hex = Buffer.from(key, 'latin1').toString('hex');
  const told = execFileSync('openssl', ['dgst', '-sha256', '-mac', 'HMAC', '-macopt', `hexkey:${hex}`], {
    input: data,
  });
  expect(String(told).trim().split('= ')[1]).toBe(expected);
});

test('without a secret nothing is signed', () =>
  serving(secureServer(house.certificate('told.test', 1), 204), async ({ port, received }) => {
    expect(await send(port)).toEqual({ sent: true });
    expect(Object.keys(received[0]?.headers ?? {}).filter((name) => name.startsWith('headroomd'))).toEqual([]);
  }));

test.each([
  ['has expired', 'told.test', -1, /certificate has expired.*CERT_HAS_EXPIRED/],
  ['is for another name', 'other.test', 1, /for another name.*ERR_TLS_CERT_ALTNAME_INVALID/],
])('a certificate that %s is told as that, and nothing is sent', (_what, name, days, words) =>
  serving(secureServer(house.certificate(name, days), 200), async ({ port, received }) => {
    const outcome = await send(port);
    expect(outcome).toMatchObject({ sent: false, retry: true, message: expect.stringMatching(words) });
    expect(JSON.stringify(outcome)).not.toContain('secret-part');
    expect(received).toEqual([]);
  }),
);

test('a certificate of an authority that nobody knows is told as that', () =>
  serving(secureServer(house.certificate('told.test', 1), 200), async ({ port, received }) => {
    const outcome = await send(port, { ca: null });
    expect(outcome).toMatchObject({
      sent: false,
      message: expect.stringMatching(/authority that is not known.*ca_file/),
    });
    expect(received).toEqual([]);
  }));

test('a certificate that is signed by itself is told as that, and taken when it is named', () => {
  const own = house.selfSigned('told.test');
  return serving(secureServer(own, 200), async ({ port, received }) => {
    // The facility's authority is known, and has nothing to do with it.
    expect(await send(port)).toMatchObject({
      ...{ sent: false, retry: true, message: expect.stringMatching(/is self-signed.*DEPTH_ZERO_SELF_SIGNED_CERT/) },
    });
    expect(received).toEqual([]);
    expect(await send(port, { ca: own.cert })).toEqual({ sent: true });
  });
});

test('no redirect is followed', () =>
  serving(secureServer(house.certificate('told.test', 1), 200), (aim) =>
    serving(
      secureServer(house.certificate('told.test', 1), 307, { location: `https://told.test:${aim.port}/` }),
      async ({ port, received }) => {
        const outcome = await send(port);
        expect(outcome).toMatchObject({
          sent: false,
          retry: false,
          message: expect.stringMatching(/redirect \(307\)/),
        });
        expect(received).toHaveLength(1);
        expect(aim.received).toEqual([]);
      },
    ),
  ));

test.each([
  [201, true, null],
  [400, false, false],
  [401, false, false],
  [404, false, false],
  [408, false, true],
  [410, false, false],
  [425, false, true],
  [429, false, true],
  [500, false, true],
  [503, false, true],
])('status %i', (status, sent, retry) =>
  serving(secureServer(house.certificate('told.test', 1), status), async ({ port }) => {
    const outcome = await send(port);
    expect(outcome.sent).toBe(sent);
    if (!outcome.sent) expect(outcome).toMatchObject({ retry, message: `It answered with status ${status}.` });
  }),
);

test('nobody there, a name that nobody knows, and silence are told, and may be otherwise later', async () => {
  const silent = createServer((socket) => socket.on('error', () => {}).resume());
  await new Promise<void>((resolve) => silent.listen(0, '127.0.0.1', resolve));
  const { port } = silent.address() as AddressInfo;
  expect(await send(port)).toEqual({ sent: false, retry: true, message: 'It did not answer in time.' });
  await new Promise((resolve) => silent.close(resolve));
  expect(await send(port)).toMatchObject({ retry: true, message: expect.stringMatching(/ECONNREFUSED/) });
  const unknown = Object.assign(new Error('getaddrinfo told.test'), { code: 'ENOTFOUND' });
  const outcome = await send(port, { resolve: () => Promise.reject(unknown) });
  expect(outcome).toMatchObject({ retry: true, message: expect.stringMatching(/name is not known/) });
  const late = await send(port, { resolve: () => new Promise(() => {}) });
  expect(late).toMatchObject({ retry: true, message: 'It did not answer in time.' });
});

test.each([
  ['127.0.0.1', 4, true],
  ['::1', 6, true],
  ['10.1.2.3', 4, true],
  ['192.168.1.1', 4, true],
  ['172.31.0.1', 4, true],
  ['::ffff:10.0.0.1', 6, true],
  ['fd12::1', 6, true],
  ['169.254.169.254', 4, false],
  ['::ffff:169.254.169.254', 6, false],
  ['fe80::1', 6, false],
  ['0.0.0.0', 4, false],
  ['::', 6, false],
  ['224.0.0.1', 4, false],
  ['ff02::1', 6, false],
  ['255.255.255.255', 4, false],
  ['64:ff9b::a9fe:a9fe', 6, false],
])('%s is not spoken to unless it may be', async (address, family, isOfHouse) => {
  const outcome = await send(9, { allowPrivate: false, resolve: async () => [{ address, family }] });
  expect(outcome).toMatchObject({ sent: false, retry: false });
  if (!outcome.sent) expect(outcome.message.includes('private = true')).toBe(isOfHouse);
  if (isOfHouse) return;
  expect(await send(9, { resolve: async () => [{ address, family }] })).toMatchObject({ sent: false, retry: false });
});

test('the connection goes to the address that was checked: the name is asked for once', () =>
  serving(secureServer(house.certificate('told.test', 1), 200), async ({ port }) => {
    let asked = 0;
    const resolve = async () => {
      asked += 1;
      // Who answers otherwise the second time gains nothing.
      return [{ address: asked === 1 ? '127.0.0.1' : '169.254.169.254', family: 4 }];
    };
    expect(await send(port, { resolve })).toEqual({ sent: true });
    expect(asked).toBe(1);
  }));

test('without TLS only to this machine', async () => {
  const url = 'http://told.test:9/';
  const outcome = await send(9, { url, resolve: async () => [{ address: '10.0.0.1', family: 4 }] });
  expect(outcome).toMatchObject({ sent: false, retry: false });
});
