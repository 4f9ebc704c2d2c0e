import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { ChannelPort } from '../../src/core/notify/channel-port.ts';
import { messageFor } from '../../src/core/notify/message.ts';
import { commandChannel } from '../../src/rim/notify/command.ts';
import { desktopChannel } from '../../src/rim/notify/desktop.ts';
import { mailChannel } from '../../src/rim/notify/mail.ts';
import { webhookChannel } from '../../src/rim/notify/webhook.ts';
import { advisoryOf } from '../fakes/advisories.ts';
import { fakeChannel } from '../fakes/channel.ts';
import { desktopSession } from '../rim/notify/desktop-session.ts';
import { mailServer } from '../rim/notify/mail-server.ts';

/** A channel, and the other side of it. */
interface Subject {
  channel: ChannelPort;
  /** How the other side answers from now on. */
  answer(how: 'takes' | 'refuses' | 'later' | 'never'): void;
  /** Ids of the messages that arrived there, in order. */
  arrived(): string[];
  end(): Promise<void>;
}

const place = { host: 'edit-1', zone: 'UTC' };

async function fake(): Promise<Subject> {
  const channel = fakeChannel();
  const answers = {
    takes: { sent: true },
    refuses: { sent: false, retry: false, message: 'No.' },
    later: { sent: false, retry: true, message: 'Later.' },
    never: 'never',
  } as const;
  return {
    channel,
    answer: (how) => channel.answers(answers[how]),
    arrived: () => channel.arrived.map(({ id }) => id),
    end: async () => {},
  };
}

async function webhook(): Promise<Subject> {
  const status = { takes: 204, refuses: 403, later: 503, never: 0 };
  let code = status.takes;
  const ids: string[] = [];
  const server = createServer(async (request, response) => {
    let body = '';
    for await (const chunk of request) body += chunk;
    ids.push(JSON.parse(body).id);
    if (code !== 0) response.writeHead(code).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/told`;
  const channel = webhookChannel({
    ...{ url, secret: null, ca: null, allowPrivate: true, now: () => 0, connectMs: 1_000, wholeMs: 1_500, ...place },
  });
  return {
    channel,
    answer(how) {
      code = status[how];
    },
    arrived: () => ids,
    async end() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

async function command(): Promise<Subject> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-channel-'));
  const program = join(folder, 'tell');
  writeFileSync(program, `#!/bin/sh\ncat > "${folder}/in.$(date +%s%N)"\n. "${folder}/how"\n`);
  chmodSync(program, 0o700);
  const how = { takes: 'exit 0', refuses: 'exit 1', later: 'exit 75', never: 'sleep 60' };
  writeFileSync(join(folder, 'how'), how.takes);
  const channel = commandChannel({ argv: [program], env: process.env, wholeMs: 1_500, ...place });
  return {
    channel,
    answer: (what) => writeFileSync(join(folder, 'how'), how[what]),
    arrived: () =>
      readdirSync(folder)
        .filter((name) => name.startsWith('in.'))
        .sort()
        .map((name) => JSON.parse(readFileSync(join(folder, name), 'utf8')).id),
    end: async () => {
      if (existsSync(folder)) rmSync(folder, { recursive: true });
    },
  };
}

async function desktop(): Promise<Subject> {
  const session = await desktopSession();
  await session.startService();
  return {
    channel: desktopChannel({ env: session.env, wholeMs: 1_500 }),
    answer: session.answer,
    arrived: () => session.shown().map(({ id }) => id),
    end: session.end,
  };
}

async function mail(): Promise<Subject> {
  const server = await mailServer({ disabledCommands: ['AUTH', 'STARTTLS'] });
  const channel = mailChannel({
    ...{ server: { host: '127.0.0.1', port: server.port }, security: 'none', login: null, ca: null, stepMs: 1_500 },
    ...{ host: 'edit-1', from: 'headroomd@example.org', to: ['edit@example.org'] },
  });
  return {
    ...{ channel, answer: server.answer, end: server.close },
    arrived: () => server.read().map(({ id }) => id.replace('<', '').replace('@edit-1>', '')),
  };
}

/** To try another channel: one line here, and a factory as above. */
const SUBJECTS: Record<string, () => Promise<Subject>> = { fake, webhook, command, desktop, mail };

const message = (id: string) =>
  messageFor({ channel: 'any', event: 'first', advisory: advisoryOf('stripe'), at: 1_804_183_200_000 }, id, 'UTC');

describe.each(Object.entries(SUBJECTS))('%s', (name, make) => {
  async function using(body: (subject: Subject) => Promise<void>): Promise<void> {
    const subject = await make();
    try {
      await body(subject);
    } finally {
      await subject.channel.close();
      await subject.end();
    }
  }

  test('what is sent arrives once, in order', () =>
    using(async ({ channel, arrived }) => {
      for (const id of ['1-1', '1-2', '1-3']) expect(await channel.send(message(id))).toEqual({ sent: true });
      expect(arrived()).toEqual(['1-1', '1-2', '1-3']);
    }));

  test('what is refused is told, with whether it may go through later, and is not sent again by itself', () =>
    using(async ({ channel, answer, arrived }) => {
      answer('refuses');
      expect(await channel.send(message('1-1'))).toMatchObject({ sent: false, retry: false });
      answer('later');
      const later = await channel.send(message('1-2'));
      expect(later).toMatchObject({ sent: false, retry: true });
      if (!later.sent) expect(later.message).toMatch(/^[A-Z].*\.$/);
      answer('takes');
      expect(await channel.send(message('1-2'))).toEqual({ sent: true });
      expect(arrived()).toEqual(['1-1', '1-2', '1-2']);
    }));

  // A fake has no time of its own.
  if (name !== 'fake')
    test('what is never answered ends by itself, and may go through later', () =>
      using(async ({ channel, answer, arrived }) => {
        answer('never');
        expect(await channel.send(message('1-1'))).toMatchObject({ sent: false, retry: true });
        expect(arrived()).toEqual(['1-1']);
      }));

  test('closing ends what goes on; sending then is refused, not thrown', () =>
    using(async ({ channel, answer }) => {
      answer('never');
      const sending = channel.send(message('1-1'));
      await channel.close();
      expect(await sending).toMatchObject({ sent: false, retry: true });
      expect(await channel.send(message('1-2'))).toMatchObject({ sent: false, retry: true });
      await channel.close();
    }));
});
