import { execFileSync } from 'node:child_process';
import type { AddressInfo } from 'node:net';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';

/** A mail as python's own reader of RFC 5322 sees it. */
export interface ReadMail {
  subject: string;
  from: string;
  to: string;
  id: string;
  auto: string;
  date: string;
  text: string;
}

export interface MailServer {
  port: number;
  /** Whole messages, as they came. */
  received: Buffer[];
  read(): ReadMail[];
  answer(how: 'takes' | 'refuses' | 'later' | 'never'): void;
  close(): Promise<void>;
}

const READER = `
import sys, json
from email import message_from_bytes, policy
m = message_from_bytes(sys.stdin.buffer.read(), policy=policy.default)
named = dict(subject='Subject', to='To', id='Message-ID', auto='Auto-Submitted', date='Date')
named['from'] = 'From'
print(json.dumps({**{key: str(m[name]) for key, name in named.items()}, 'text': m.get_content().replace('\\r\\n', '\\n')}))
`;

/** An SMTP server on loopback. */
export async function mailServer(options: SMTPServerOptions): Promise<MailServer> {
  let how: Parameters<MailServer['answer']>[0] = 'takes';
  const received: Buffer[] = [];
  const replies = { refuses: [550, 'no such user'], later: [451, 'come again'] } as const;
  const server = new SMTPServer({
    authOptional: true,
    disableReverseLookup: true,
    closeTimeout: 100,
    onData(stream, _session, done) {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        received.push(Buffer.concat(chunks));
        if (how === 'takes') return done();
        if (how === 'never') return;
        const [responseCode, words] = replies[how];
        done(Object.assign(new Error(words), { responseCode }));
      });
    },
    ...options,
  });
  // Connections that are cut, or refuse our certificate, are what the tests are about.
  server.on('error', () => {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.server.address() as AddressInfo).port,
    received,
    read: () =>
      received.map((input) => JSON.parse(String(execFileSync('/usr/bin/python3', ['-c', READER], { input })))),
    answer(next) {
      how = next;
    },
    close: () => new Promise((resolve) => server.close(() => resolve())),
  };
}
