import { describe, expect, test } from 'vitest';
import type { FileStat } from '../../../src/core/model.ts';
import type { RootEvent } from '../../../src/core/root-port.ts';
import { Inbox, type Told } from '../../../src/rim/watch/inbox.ts';
import { type ChildEvent, packEvent } from '../../../src/rim/watch/packing.ts';
import type { FromChild } from '../../../src/rim/watch/protocol.ts';
import { PART } from '../../../src/rim/watch/read-folder.ts';

const file = (path: string): FileStat => ({
  path,
  size: 1,
  allocated: 0,
  mtimeNs: 1n,
  ctimeNs: 1n,
  dev: 1n,
  ino: 1n,
  nlink: 1,
});
const listing = (dir: string, ...names: string[]): ChildEvent => ({
  type: 'listing',
  dir,
  files: names.map((name) => file(`${dir}/${name}`)),
  dirs: [],
  unreadable: [],
});
const part = (dir: string, first: boolean, ...names: string[]): ChildEvent => ({
  type: 'part',
  dir,
  first,
  files: names.map((name) => file(`${dir}/${name}`)),
});
const packed = (event: ChildEvent): FromChild => ({ type: 'event', event: packEvent(event) });

/** `now`: by the clock of the machine where it is to take its turns. */
function inbox(now: () => number = () => 0) {
  const got: (RootEvent | Told)[] = [];
  let taken = 0;
  const subject = new Inbox({
    event: (event) => got.push(event),
    told: (message) => got.push(message),
    partTaken: () => {
      taken += 1;
    },
    now,
  });
  const listed = () =>
    got.flatMap((event) =>
      event.type === 'listing' ? [`${event.dir}: ${event.files.map(({ path }) => path).join()}`] : [],
    );
  return { subject, got, listed, taken: () => taken };
}

describe('a listing in parts', () => {
  test('is told as one, when it is complete', () => {
    const { subject, got, listed, taken } = inbox();
    for (const event of [part('d', true, 'a', 'b'), part('d', false, 'c')]) subject.take(packed(event));
    expect([got.length, taken()]).toEqual([0, 2]);
    subject.take(packed(listing('d', 'e')));
    expect(listed()).toEqual(['d: d/a,d/b,d/c,d/e']);
  });

  test('what is told between two parts is told at once', () => {
    const { subject, got } = inbox();
    subject.take(packed(part('d', true, 'a')));
    subject.take(packed({ type: 'gone', paths: ['x'] }));
    subject.take(packed(listing('d')));
    expect(got.map(({ type }) => type)).toEqual(['gone', 'listing']);
  });

  test('parts of a folder that came to nothing are not mixed with what comes later', () => {
    const { subject, listed } = inbox();
    subject.take(packed(part('d', true, 'old')));
    subject.take(packed(part('d', true)));
    subject.take(packed(listing('d', 'new')));
    subject.take(packed(part('d', true, 'older')));
    subject.take(packed(listing('e', 'other')));
    subject.take(packed(listing('d', 'newer')));
    expect(listed()).toEqual(['d: d/new', 'e: e/other', 'd: d/newer']);
  });
});

test('100,000 files that come at once are unpacked in many turns of the loop, and an answer behind them waits', async () => {
  const { subject, got } = inbox(() => performance.now());
  const names = Array.from({ length: PART }, (_, at) => `A001_${at}.dpx`);
  for (let at = 0; at < 50; at += 1) subject.take(packed(part('d', at === 0, ...names)));
  subject.take(packed(listing('d')));
  subject.take({ type: 'answer', id: 1, value: null });
  expect(got).toEqual([]);
  let turns = 0;
  for (; got.length < 2; turns += 1) await new Promise((resolve) => setImmediate(resolve));
  expect(turns).toBeGreaterThan(2);
  expect(got.map(({ type }) => type)).toEqual(['listing', 'answer']);
  expect(got[0]).toMatchObject({ type: 'listing', dir: 'd' });
  expect((got[0] as Extract<RootEvent, { type: 'listing' }>).files).toHaveLength(100_000);
});

test('after it is closed nothing comes out of it', async () => {
  const { subject, got } = inbox(() => performance.now());
  const names = Array.from({ length: PART }, (_, at) => `${at}`);
  for (let at = 0; at < 20; at += 1) subject.take(packed(part('d', at === 0, ...names)));
  subject.take(packed(listing('d')));
  subject.close();
  subject.take(packed(listing('e')));
  await new Promise((resolve) => setTimeout(resolve, 30));
  expect(got).toEqual([]);
});
