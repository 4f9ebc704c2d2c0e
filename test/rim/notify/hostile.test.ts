import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import sax from 'sax';
import { afterAll, afterEach, beforeEach, expect, test } from 'vitest';
import type { ChannelMessage } from '../../../src/core/notify/channel-port.ts';
import { messageFor } from '../../../src/core/notify/message.ts';
import { commandChannel } from '../../../src/rim/notify/command.ts';
import { desktopChannel } from '../../../src/rim/notify/desktop.ts';
import { mailChannel } from '../../../src/rim/notify/mail.ts';
import { webhookChannel } from '../../../src/rim/notify/webhook.ts';
import { runs } from '../../effort.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { desktopSession } from './desktop-session.ts';
import { hostileWords } from './hostile-words.ts';
import { mailServer } from './mail-server.ts';

const at = 1_804_183_200_000;
const place = { host: 'edit-1', zone: 'UTC' };
/** A smaller case is not looked for: each is a message that is really sent. */
const tries = (numRuns: number) => ({ numRuns: runs(numRuns), endOnFailure: true });

/** As the daemon makes it of an advisory that was named by somebody hostile. */
const made = fc.tuple(hostileWords, hostileWords).map(([subject, message]) => {
  const advisory = { ...advisoryOf(subject), message, remedies: [{ action: message, effect: subject }] };
  return messageFor({ channel: 'any', event: 'first', advisory, at }, '1804183200000-7', 'UTC');
});

/** As nobody makes it: the words as they are. An adapter must hold by itself. */
const raw = fc.tuple(hostileWords, hostileWords).map(([title, text]): ChannelMessage => {
  return { id: '1804183200000-7', event: 'test', advisory: null, title, text, at };
});
const either = fc.oneof(made, raw);

/** UTF-8 knows no halves of characters: they become U+FFFD (WHATWG Encoding, "UTF-8 encode" after "convert to scalar values"). */
const whole = (text: string) => text.toWellFormed();

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-hostile-'));
});
afterEach(() => rmSync(folder, { recursive: true }));
afterAll(() => expect(existsSync('/tmp/x'), 'a word was run by a shell').toBe(false));

test('a mail has the headers that it should have, and no more; what the daemon made is read as it was', async () => {
  const server = await mailServer({ disabledCommands: ['AUTH', 'STARTTLS'] });
  const channel = mailChannel({
    ...{ server: { host: '127.0.0.1', port: server.port }, security: 'none', login: null, ca: null, stepMs: 5_000 },
    ...{ host: 'edit-1', from: 'headroomd@example.org', to: ['edit@example.org'] },
  });
  try {
    const sent: ChannelMessage[] = [];
    await fc.assert(
      fc.asyncProperty(either, async (message) => {
        const before = server.received.length;
        expect(await channel.send(message)).toEqual({ sent: true });
        sent.push(message);
        expect(server.received).toHaveLength(before + 1);
        const [head = ''] = String(server.received.at(-1)).split('\r\n\r\n');
        const names = head.split('\r\n').flatMap((line) => (/^[ \t]/.test(line) ? [] : [line.split(':')[0]]));
        // Without a title there is no subject.
        expect(names.filter((name) => name !== 'Subject').sort()).toEqual(HEADERS);
        expect(names.filter((name) => name === 'Subject').length).toBeLessThanOrEqual(1);
        // RFC 5322, 2.1.1: 998 characters at the most; 2.2: printable ASCII.
        for (const line of String(server.received.at(-1)).split('\r\n')) expect(line.length).toBeLessThanOrEqual(998);
        expect(head).toMatch(/^[\t\r\n\x20-\x7e]*$/);
      }),
      tries(40),
    );
    const pairs = server.read().map((read, index) => ({ read, message: sent[index] }));
    for (const { read, message } of pairs) {
      if (message === undefined || message.advisory === null) continue;
      expect(inOneLine(read.subject)).toBe(inOneLine(message.title.replaceAll('=?', '= ?')));
      expect(read.text).toBe(`${message.text}\n`);
    }
  } finally {
    await channel.close();
    await server.close();
  }
});

/** Where a header is folded, and with how many blanks, is the mail's own affair. */
const inOneLine = (text: string) => text.trim().replace(/\s+/g, ' ');

const HEADERS = [
  ...['Auto-Submitted', 'Content-Transfer-Encoding', 'Content-Type', 'Date', 'From', 'MIME-Version', 'Message-ID'],
  'To',
];

test('a webhook is one JSON object in whole UTF-8, and says what the message says', async () => {
  const bodies: Buffer[] = [];
  const server = createServer(async (request, response) => {
    const chunks: Buffer[] = [];
    for await (const chunk of request) chunks.push(chunk);
    bodies.push(Buffer.concat(chunks));
    response.writeHead(204).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/told`;
  const channel = webhookChannel({ url, secret: null, ca: null, allowPrivate: true, now: () => 0, ...place });
  try {
    await fc.assert(
      fc.asyncProperty(either, async (message) => {
        expect(await channel.send(message)).toEqual({ sent: true });
        const text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bodies.at(-1));
        const { id, title, text: said } = JSON.parse(text);
        expect({ id, title, said }).toEqual({ id: message.id, title: message.title, said: message.text });
      }),
      tries(100),
    );
  } finally {
    await channel.close();
    await new Promise((resolve) => server.close(resolve));
  }
});

test('a program is handed JSON that another reader than ours reads alike', async () => {
  const program = join(folder, 'tell');
  const reads = "import sys, json; m = json.loads(sys.stdin.buffer.read().decode('utf-8', 'strict'))";
  const writes = "open(sys.argv[1], 'w').write(json.dumps([m['id'], m['title'], m['text']]))";
  writeFileSync(program, `#!/bin/sh\nexec /usr/bin/python3 -c "${reads}; ${writes}" "${folder}/told"\n`);
  chmodSync(program, 0o700);
  const channel = commandChannel({ argv: [program], env: process.env, ...place });
  await fc.assert(
    fc.asyncProperty(either, async (message) => {
      expect(await channel.send(message)).toEqual({ sent: true });
      expect(JSON.parse(readFileSync(join(folder, 'told'), 'utf8'))).toEqual([message.id, message.title, message.text]);
    }),
    tries(25),
  );
  await channel.close();
});

test('a bubble says the words, and markup is none in it', async () => {
  const session = await desktopSession();
  try {
    await session.startService();
    session.able('body', 'body-markup');
    const channel = desktopChannel({ env: session.env, wholeMs: 5_000 });
    await fc.assert(
      fc.asyncProperty(either, async (message) => {
        expect(await channel.send(message)).toEqual({ sent: true });
        const shown = session.shown().at(-1);
        // D-Bus Specification, "Basic types": a string holds no NUL. busctl takes no noncharacters (Unicode, 23.7) either.
        const words = (text: string) => whole(text).replaceAll('\0', '\ufffd').replace(NONCHARACTERS, '\ufffd');
        expect(shown?.summary).toBe(words(message.title));
        expect(textOf(shown?.body ?? '')).toBe(words([...message.text].slice(0, 1_000).join('')));
      }),
      tries(25),
    );
  } finally {
    await session.end();
  }
});

// Unicode, 23.7: the last two of each plane, and 32 more.
const NONCHARACTERS = new RegExp(
  `[\\u{fdd0}-\\u{fdef}${Array.from({ length: 17 }, (_, plane) => `\\u{${plane.toString(16)}fffe}-\\u{${plane.toString(16)}ffff}`).join('')}]`,
  'gu',
);

/** As a reader of XML reads it: strict, and with no element in it. */
function textOf(markup: string): string {
  const parser = sax.parser(true);
  let text = '';
  parser.ontext = (part) => {
    text += part;
  };
  parser.onopentag = ({ name }) => {
    if (name !== 'body') throw new Error(`markup got through: <${name}>`);
  };
  parser.onerror = (error) => {
    throw error;
  };
  parser.write(`<body>${markup}</body>`).close();
  return text;
}
