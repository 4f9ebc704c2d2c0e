import { createServer } from 'node:net';
import type { SMTPServerOptions } from 'smtp-server';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { messageFor } from '../../../src/core/notify/message.ts';
import { reportOf } from '../../../src/core/present/report.ts';
import { MAIL_WIDTH, reportText } from '../../../src/core/present/report-text.ts';
import { type MailOptions, mailChannel } from '../../../src/rim/notify/mail.ts';
import { factsOf, NIGHT } from '../../core/present/report-story.ts';
import { sampleVolume } from '../../core/samples.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { type Facility, facility } from './facility.ts';
import { type MailServer, mailServer } from './mail-server.ts';

const at = 1_804_183_200_000;
const message = (subject = 'stripe', id = '1804183200000-7') =>
  messageFor({ channel: 'mail', event: 'first', advisory: advisoryOf(subject), at }, id, 'UTC');

let house: Facility;
beforeAll(() => {
  house = facility();
});
afterAll(() => house.clear());

async function on(options: SMTPServerOptions, body: (server: MailServer) => Promise<void>): Promise<void> {
  const server = await mailServer(options);
  try {
    await body(server);
  } finally {
    await server.close();
  }
}

async function send(port: number, more: Partial<MailOptions> = {}, what = message()) {
  const channel = mailChannel({
    ...{
      server: { host: 'localhost', port },
      security: 'none',
      login: null,
      ca: house.ca,
      host: 'edit 1',
      stepMs: 2_000,
    },
    ...{ from: 'headroomd@example.org', to: ['edit@example.org', 'night@example.org'] },
    ...more,
  });
  const outcome = await channel.send(what);
  await channel.close();
  return outcome;
}

const open: SMTPServerOptions = { disabledCommands: ['AUTH', 'STARTTLS'] };

test('another reader of mail reads what was meant', () =>
  on(open, async ({ port, read }) => {
    expect(await send(port)).toEqual({ sent: true });
    const { title, text } = message();
    expect(read()).toEqual([
      {
        ...{ subject: title, text: `${text}\n`, from: 'headroomd@example.org', id: '<1804183200000-7@edit-1>' },
        ...{ to: 'edit@example.org, night@example.org', auto: 'auto-generated' },
        date: 'Thu, 04 Mar 2027 18:00:00 +0000',
      },
    ]);
  }));

test.each(['Saltmarsh', 'a\r\nBcc: all@example.org', '\u6620\u753b '.repeat(30), '.', 'From headroomd'])(
  'a report of %j is read as it was made, in lines of 76 at the most',
  (name) =>
    on(open, async ({ port, read, received }) => {
      const report = reportOf(factsOf(NIGHT, { volumes: [sampleVolume({ name })] }));
      const words = { title: report.verdict.title, text: reportText(report, MAIL_WIDTH).trimEnd() };
      const day = { channel: 'mail', event: 'report', advisory: null, day: '2027-03-05', until: at, at } as const;
      expect(await send(port, {}, messageFor({ ...day, ...words }, `${at}-9`, 'UTC'))).toEqual({ sent: true });
      expect(read()[0]).toMatchObject({ subject: words.title, text: `${words.text}\n`, id: `<${at}-9@edit-1>` });
      expect(String(received[0])).not.toMatch(/^Bcc:/im);
      expect(Math.max(...words.text.split('\n').map((line) => [...line].length))).toBeLessThanOrEqual(76);
    }),
);

test.each([
  'a\r\nBcc: all@example.org',
  '=?utf-8?q?not_encoded?=',
  'R\u00e4umung \u6620\u753b 🎬',
  '\u202eabc',
  `${'long '.repeat(60)}end`,
  '.',
  'From headroomd',
])('a name like %j stays in its line, and is read as it was written', (subject) =>
  on(open, async ({ port, read, received }) => {
    const hostile = messageFor(
      { channel: 'mail', event: 'first', at, advisory: { ...advisoryOf(subject), message: `${subject} is full.` } },
      '1',
      'UTC',
    );
    expect(await send(port, {}, hostile)).toEqual({ sent: true });
    expect(read()[0]).toMatchObject({ subject: hostile.title.replaceAll('=?', '= ?'), text: `${hostile.text}\n` });
    expect(String(received[0])).not.toMatch(/^Bcc:/im);
  }),
);

describe('the way there', () => {
  test.each(['tls', 'starttls'] as const)('%s, signed in', (security) =>
    on(
      {
        ...house.certificate('localhost', 1),
        ...{ secure: security === 'tls', authOptional: false },
        onAuth: ({ username, password }, session, done) =>
          username === 'edit' && password === 'right' && session.secure
            ? done(null, { user: 'edit' })
            : done(new Error('no')),
      },
      async ({ port, received }) => {
        expect(await send(port, { security, login: { user: 'edit', password: 'right' } })).toEqual({ sent: true });
        const wrong = await send(port, { security, login: { user: 'edit', password: 'wrong-secret' } });
        expect(wrong).toEqual({
          ...{ sent: false, retry: false, message: 'The server refused the user or the password (535).' },
        });
        expect(received).toHaveLength(1);
      },
    ),
  );

  test('a server that repeats what it was told gives no password away', async () => {
    const [user, password] = ['edit', 'my-secret-pw'];
    const echo = createServer((socket) => {
      socket.write('220 here\r\n');
      socket.on('error', () => {});
      socket.on('data', (chunk) => {
        const line = String(chunk).trim();
        if (line.startsWith('EHLO')) socket.write('250-here\r\n250 AUTH PLAIN\r\n');
        else socket.write(`454 later: ${line}\r\n`);
      });
    });
    await new Promise<void>((resolve) => echo.listen(0, '127.0.0.1', resolve));
    const told = await send((echo.address() as { port: number }).port, { login: { user, password } });
    echo.close();
    expect(told).toEqual({ sent: false, retry: true, message: 'The server let nobody sign in just now (454).' });
  });

  test('a server that offers no TLS is not told in plain text', () =>
    on(open, async ({ port, received }) => {
      for (const security of ['tls', 'starttls'] as const)
        expect(await send(port, { security })).toMatchObject({ sent: false, retry: true });
      expect(received).toEqual([]);
    }));

  test.each([
    ['has expired', 'localhost', -1, /expired/],
    ['is for another name', 'other.example.org', 1, /another name/],
  ])('a certificate that %s', (_, name, days, words) =>
    on({ ...house.certificate(name, days), secure: true }, async ({ port, received }) => {
      expect(await send(port, { security: 'tls' })).toMatchObject({
        retry: true,
        message: expect.stringMatching(words),
      });
      expect(received).toEqual([]);
    }),
  );

  test('a certificate that is signed by itself is told as that, and taken when it is named', () => {
    const own = house.selfSigned('localhost');
    return on({ ...own, secure: true }, async ({ port, received }) => {
      // The facility's authority is known, and has nothing to do with it.
      expect(await send(port, { security: 'tls' })).toMatchObject({
        ...{ sent: false, retry: true, message: expect.stringMatching(/is self-signed.*ca_file/) },
      });
      expect(received).toEqual([]);
      expect(await send(port, { security: 'tls', ca: own.cert })).toEqual({ sent: true });
    });
  });

  test('an authority that is not known here', () =>
    on({ ...house.certificate('localhost', 1), secure: true }, async ({ port, received }) => {
      const told = await send(port, { security: 'tls', ca: null });
      expect(told).toMatchObject({ retry: true, message: expect.stringContaining('ca_file') });
      expect(received).toEqual([]);
    }));
});

// RFC 5321, 4.2.1: 4yz is a transient negative reply, 5yz a permanent one.
test('later is later, and no is no', () =>
  on(open, async (server) => {
    server.answer('later');
    expect(await send(server.port)).toEqual({ sent: false, retry: true, message: 'The server said: 451 come again.' });
    server.answer('refuses');
    expect(await send(server.port)).toEqual({
      sent: false,
      retry: false,
      message: 'The server said: 550 no such user.',
    });
  }));

test('who of several is refused is told, and the others do not get it twice', () =>
  on(
    {
      ...open,
      onRcptTo: ({ address }, _session, done) =>
        done(address.startsWith('night') ? Object.assign(new Error('away'), { responseCode: 550 }) : null),
    },
    async ({ port, received }) => {
      expect(await send(port)).toEqual({
        ...{ sent: false, retry: false },
        message: 'The server took it for the others, and refused it for night@example.org.',
      });
      expect(received).toHaveLength(1);
    },
  ));

test('nobody there, and one who says nothing', async () => {
  expect(await send(9)).toMatchObject({ sent: false, retry: true });
  const silent = createServer(() => {});
  await new Promise<void>((resolve) => silent.listen(0, '127.0.0.1', resolve));
  const { port } = silent.address() as { port: number };
  const told = await send(port, { stepMs: 300 });
  silent.close();
  expect(told).toEqual({ sent: false, retry: true, message: 'It did not answer in time.' });
});

test('one who says something now and then is not waited for for ever', async () => {
  const dribbling = createServer((socket) => {
    const timer = setInterval(() => socket.write('220-wait\r\n'), 100);
    socket.on('error', () => {});
    socket.on('close', () => clearInterval(timer));
  });
  await new Promise<void>((resolve) => dribbling.listen(0, '127.0.0.1', resolve));
  const { port } = dribbling.address() as { port: number };
  // Its greeting never ends: what is bounded step by step would be bounded by that step; the whole is shorter here.
  const told = await send(port, { stepMs: 60_000, wholeMs: 700 });
  dribbling.close();
  expect(told).toEqual({ sent: false, retry: true, message: 'It did not answer in time.' });
});
