import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { messageFor, testMessage } from '../../../src/core/notify/message.ts';
import { desktopChannel } from '../../../src/rim/notify/desktop.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { type DesktopSession, desktopSession } from './desktop-session.ts';

const at = 1_804_183_200_000;

let session: DesktopSession;
beforeEach(async () => {
  session = await desktopSession();
});
afterEach(() => session.end());

const channel = () => desktopChannel({ env: session.env, wholeMs: 2_000 });
const message = (id: string, advisory = advisoryOf('stripe'), event: 'first' | 'worse' | 'cleared' = 'first') =>
  messageFor({ channel: 'desktop', event, advisory, at }, id, 'UTC');

describe('on a bus with a service', () => {
  beforeEach(() => session.startService());

  test('says what the message says, as urgent as it is', async () => {
    const desktop = channel();
    for (const severity of ['notice', 'warning', 'critical'] as const)
      expect(await desktop.send(message(severity, advisoryOf(severity, severity)))).toEqual({ sent: true });
    const { title, text } = message('warning', advisoryOf('warning'));
    // Urgency levels: Desktop Notifications Specification 1.2, "Urgency Levels": 0 low, 1 normal, 2 critical.
    expect(session.shown().map(({ id, urgency }) => [id, urgency])).toEqual([
      ['notice', 0],
      ['warning', 1],
      ['critical', 2],
    ]);
    expect(session.shown()[1]).toMatchObject({
      ...{ app: 'headroomd', summary: title, body: text, replaces: 0, actions: [], expires: -1 },
    });
  });

  test('what is said of the same advisory later takes the place of its bubble, until it is over', async () => {
    const desktop = channel();
    const other = advisoryOf('shelf-a');
    await desktop.send(message('1'));
    await desktop.send(message('2', other));
    await desktop.send(message('3', advisoryOf('stripe', 'critical'), 'worse'));
    await desktop.send(message('4', advisoryOf('stripe'), 'cleared'));
    await desktop.send(message('5'));
    expect(session.shown().map(({ id, replaces, urgency }) => [id, replaces, urgency])).toEqual([
      ['1', 0, 1],
      ['2', 0, 1],
      ['3', 1, 2],
      ['4', 1, 0],
      ['5', 0, 1],
    ]);
  });

  test('signs of markup are escaped where the service reads markup, and only there', async () => {
    const advisory = { ...advisoryOf('stripe'), message: 'R&D <b>7</b> is full.' };
    await channel().send(message('plain', advisory));
    session.able('body', 'body-markup');
    await channel().send(message('markup', advisory));
    const [plain, markup] = session.shown();
    expect(plain?.body).toContain('R&D <b>7</b> is full.');
    expect(markup?.body).toContain('R&amp;D &lt;b&gt;7&lt;/b&gt; is full.');
  });

  test.each(['-v', '--help', '$(touch /tmp/x)', 'a "b" \'c\' \\', '\u0627\u202e', '🎬', 'one\ntwo\u0007'])(
    'a name like %j arrives as it is shown everywhere',
    async (subject) => {
      const hostile = message('hostile', { ...advisoryOf(subject), message: subject });
      expect(await channel().send(hostile)).toEqual({ sent: true });
      expect(session.shown()[0]).toMatchObject({ summary: hostile.title, body: hostile.text });
    },
  );

  test.each(['\uffff', '\ufdd0', '\u{10fffe}', 'a\0b'])('%j, which no bus takes, holds nothing up', async (sign) => {
    const desktop = channel();
    expect(await desktop.send({ ...message('1'), title: `clip ${sign}`, text: `clip ${sign} is cut` })).toEqual({
      sent: true,
    });
    expect(session.shown()[0]?.body).toMatch(/^clip .* is cut$/);
  });

  test('a test message is a bubble of its own', async () => {
    expect(await channel().send(testMessage('desktop', 'test-1', at, 'UTC'))).toEqual({ sent: true });
    expect(session.shown()[0]).toMatchObject({ summary: 'Test message of headroomd', urgency: 1, replaces: 0 });
  });
});

test('without a service it says so, and goes through once there is one', async () => {
  const desktop = channel();
  const before = await desktop.send(message('1'));
  expect(before).toMatchObject({
    sent: false,
    retry: true,
    message: expect.stringMatching(/^The desktop could not be told/),
  });
  await session.startService();
  expect(await desktop.send(message('1'))).toEqual({ sent: true });
  await session.endService();
  expect(await desktop.send(message('2'))).toMatchObject({ sent: false, retry: true });
});

test('without a bus, without a session, and without busctl it says which', async () => {
  const PATH = process.env['PATH'];
  const from = async (env: Record<string, string | undefined>) => desktopChannel({ env }).send(message('1'));
  expect(await from({ PATH, XDG_RUNTIME_DIR: '/nowhere' })).toMatchObject({ sent: false, retry: true });
  expect(await from({ PATH })).toMatchObject({ retry: true, message: expect.stringContaining('no desktop session') });
  expect(await from({ ...session.env, PATH: '/nowhere' })).toMatchObject({
    ...{ sent: false, retry: false, message: expect.stringContaining('busctl is not here') },
  });
});

test('where the bus is follows from the runtime folder', async () => {
  const folder = String(session.env['DBUS_SESSION_BUS_ADDRESS'])
    .replace('unix:path=', '')
    .replace(/\/bus$/, '');
  await session.startService();
  const desktop = desktopChannel({ env: { PATH: process.env['PATH'], XDG_RUNTIME_DIR: folder } });
  expect(await desktop.send(message('1'))).toEqual({ sent: true });
});
