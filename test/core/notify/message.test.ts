import { expect, test } from 'vitest';
import { messageFor, testMessage } from '../../../src/core/notify/message.ts';
import { messageJson } from '../../../src/core/notify/message-json.ts';
import { advisoryOf } from '../../fakes/advisories.ts';

const zone = 'Europe/Rome';
const at = Temporal.Instant.from('2027-03-04T13:05:00Z').epochMilliseconds;
const advisory = { ...advisoryOf('stripe'), since: at - 60_000 };

test('says what, where, how much, since when and what to do', () => {
  expect(messageFor({ channel: 'mail', event: 'first', advisory, at }, '1-2', zone)).toEqual({
    ...{ id: '1-2', event: 'first', advisory, at },
    title: 'Warning: stripe has 7.34 MB left above nothing.',
    text: [
      'stripe has 7.34 MB left above nothing. 10.5 MB are to be kept free.',
      'Where: stripe',
      'Since 2027-03-04 14:04 +01:00.',
      'What to do:',
      '- Move renders of Saltmarsh to shelf-a: frees 3.2 MB.',
    ].join('\n'),
  });
});

test('what is worse, stands still or is over says so', () => {
  const titles = (['worse', 'reminder', 'cleared'] as const).map((event) => {
    return messageFor({ channel: 'mail', event, advisory: { ...advisory, severity: 'critical' }, at }, 'x', zone).title;
  });
  expect(titles).toEqual([
    'Worse, critical now: stripe has 7.34 MB left above nothing.',
    'Still critical after 1 min: stripe has 7.34 MB left above nothing.',
    'Over: stripe has room above its reserve again.',
  ]);
  const { text } = messageFor({ channel: 'mail', event: 'cleared', advisory, at }, 'x', zone);
  expect(text).toMatch(/^stripe has room above its reserve again\.\nIt was warning: stripe has 7\.34 MB/);
  expect(text).toMatch(/Since 2027-03-04 14:04 \+01:00 until 2027-03-04 14:05 \+01:00\.$/);
});

test('hostile names do not reach anybody as they are, and a title is one line of 120 characters', () => {
  const hostile = { ...advisory, subject: 'a\u202eb\nc', message: `x\u0007\n${'long '.repeat(60)}` };
  const {
    title,
    text,
    advisory: told,
  } = messageFor({ channel: 'm', event: 'first', advisory: hostile, at }, 'x', zone);
  expect(title).toHaveLength(120);
  expect(title).toMatch(/^Warning: x\\x07\\nlong .*\.\.\.$/);
  expect(text.split('\n')[1]).toBe('Where: a\\u{202e}b\\nc');
  expect(told?.subject).toBe('a\\u{202e}b\\nc');
});

test('as JSON, instants are ISO 8601 with offset', () => {
  const json = JSON.parse(
    messageJson(messageFor({ channel: 'm', event: 'first', advisory, at }, '7-8', zone), { host: 'edit-1', zone }),
  );
  expect(Object.keys(json)).toEqual(['id', 'event', 'at', 'host', 'title', 'text', 'advisory']);
  expect(json).toMatchObject({ id: '7-8', at: '2027-03-04T14:05:00.000+01:00', host: 'edit-1' });
  expect(json.advisory).toMatchObject({ id: 'capacity-reserve:stripe', since: '2027-03-04T14:04:00.000+01:00' });
});

test('a test message says that it is one', () => {
  const message = testMessage('gallery', 't-1', at, zone);
  expect(message).toMatchObject({ id: 't-1', event: 'test', advisory: null, title: 'Test message of headroomd' });
  expect(message.text).toMatch(/This is a test\. .*"gallery"/);
  expect(JSON.parse(messageJson(message, { host: 'edit-1', zone })).advisory).toBeNull();
});

test('a report goes as it was made, and is about no advisory', () => {
  const words = { title: 'Report: nothing arrived', text: 'Nothing arrived, and no footage is here.' };
  const report = {
    channel: 'mail',
    event: 'report',
    advisory: null,
    day: '2027-03-04',
    until: at,
    at,
    ...words,
  } as const;
  const message = messageFor(report, '1-9', zone);
  expect(message).toEqual({ id: '1-9', event: 'report', advisory: null, at, ...words });
  expect(JSON.parse(messageJson(message, { host: 'edit-1', zone }))).toMatchObject({ event: 'report', advisory: null });
});
