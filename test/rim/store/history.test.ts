import { describe, expect, test } from 'vitest';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import { newCommandRun } from '../../../src/core/backup/command-run.ts';
import type { KeptCopy } from '../../../src/core/backup/copies.ts';
import type { Clip, FileRecord } from '../../../src/core/model.ts';
import type { ReportMessage } from '../../../src/core/notify/queue-port.ts';
import { NEWS_KEPT_MS } from '../../../src/core/report-ports.ts';
import type { Store } from '../../../src/rim/store/store.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { AT, stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

const HOUR = 3_600_000;
const SPAN = { from: AT, until: AT + 24 * HOUR };

async function arrive(
  { catalogue }: Store,
  path: string,
  readyAt: number,
  {
    file = {},
    clip = {},
    seconds = 10 as number | null,
  }: { file?: Partial<FileRecord>; clip?: Partial<Clip>; seconds?: number | null } = {},
): Promise<void> {
  const record = someFile(`Saltmarsh/${path}`, { project: 'Saltmarsh', ...file });
  await catalogue.putFiles([record]);
  const facts = { ...PRORES_UHD25, durationSeconds: seconds };
  await catalogue.finishUnit(record.volume, record.unit, [record], [clipOf([record], facts, { readyAt, ...clip })]);
}

describe('what arrived within a time', () => {
  test('is told by project: footage, what was made of it, and what no reader knows; the end is not in it', async () => {
    const store = await open(folder());
    await arrive(store, 'a.mov', AT, { file: { size: 4e9 } });
    await arrive(store, 'b.mov', AT + 2 * HOUR, { file: { size: 6e9 }, seconds: 20.5 });
    await arrive(store, 'c.raw', AT + HOUR, { file: { size: 1e9 }, seconds: null, clip: { state: 'not-decoded' } });
    await arrive(store, 's.dng', AT + HOUR, { file: { size: 10, kind: 'still' }, seconds: null });
    await arrive(store, 'p.mov', AT + 3 * HOUR, { file: { size: 2e8, kind: 'proxy' } });
    await arrive(store, 'before.mov', AT - 1);
    await arrive(store, 'after.mov', AT + 24 * HOUR);
    await arrive(store, 'x.mov', AT + HOUR, { file: { volume: 'shelf-x', size: 5 } });
    await arrive(store, 'u.mov', AT + HOUR, { file: { area: 'unassigned', project: null, size: 7 } });
    const made = { clips: 0, bytes: 0 };
    expect(await store.history.arrived(SPAN)).toEqual([
      {
        ...{ volume: 'shelf-x', area: 'project', project: 'Saltmarsh', clips: 1, bytes: 5, durationSeconds: 10 },
        ...{ untimed: 0, notDecoded: 0, firstAt: AT + HOUR, lastAt: AT + HOUR, made },
      },
      {
        // 4 + 6 + 1 GB and a still of 10 bytes; 10 s and 20.5 s; stills have no length that could be missing.
        ...{ volume: 'stripe', area: 'project', project: 'Saltmarsh', clips: 4, bytes: 11_000_000_010 },
        ...{ durationSeconds: 30.5, untimed: 1, notDecoded: 1, firstAt: AT, lastAt: AT + 2 * HOUR },
        made: { clips: 1, bytes: 2e8 },
      },
      {
        ...{ volume: 'stripe', area: 'unassigned', project: null, clips: 1, bytes: 7, durationSeconds: 10 },
        ...{ untimed: 0, notDecoded: 0, firstAt: AT + HOUR, lastAt: AT + HOUR, made },
      },
    ]);
    expect(await store.history.notDecoded(SPAN, 5)).toEqual([
      { volume: 'stripe', project: 'Saltmarsh', name: 'c.raw' },
    ]);
    expect(await store.history.notDecoded(SPAN, 0)).toEqual([]);
    expect(await store.history.hasOlder('stripe', AT)).toBe(true);
    expect(await store.history.hasOlder('stripe', AT - 1)).toBe(false);
    expect(await store.history.hasOlder('shelf-x', AT)).toBe(false);
  });
});

test('copies that were read within a time are told by what was found, and how surely; those made then apart', async () => {
  const store = await open(folder());
  const copy = (name: string, over: Partial<KeptCopy> = {}): KeptCopy => ({
    ...{
      shelf: 'id-a',
      path: `stripe/${name}`,
      volume: 'stripe',
      project: 'Saltmarsh',
      kind: 'original',
      source: name,
    },
    ...{ size: 1000, mtimeNs: 1n, algorithm: 'xxh64', hash: name, grade: 'device', copiedAt: AT, readAt: AT },
    ...over,
  });
  await store.backups.putCopies([
    copy('new-1'),
    copy('new-2', { size: 500, readAt: AT + HOUR }),
    copy('cached', { grade: 'reported' }),
    copy('old', { copiedAt: AT - 60 * 24 * HOUR, readAt: AT + HOUR }),
    copy('bad', { copiedAt: AT - 60 * 24 * HOUR, readAt: AT - 60 * 24 * HOUR }),
    copy('unread for long', { copiedAt: AT - HOUR, readAt: AT - HOUR }),
    copy('elsewhere', { shelf: 'id-b' }),
    copy('too late', { copiedAt: SPAN.until, readAt: SPAN.until }),
  ]);
  await store.backups.putReads('id-a', [{ path: 'stripe/bad', state: 'differs', grade: 'device', readAt: AT + HOUR }]);
  const of = { volume: 'stripe', grade: 'device', state: 'good' };
  expect(await store.history.copiesRead('id-a', SPAN)).toEqual([
    { ...of, isNew: true, files: 2, bytes: 1500 },
    { ...of, grade: 'reported', isNew: true, files: 1, bytes: 1000 },
    { ...of, state: 'differs', isNew: false, files: 1, bytes: 1000 },
    { ...of, isNew: false, files: 1, bytes: 1000 },
  ]);
});

test('runs and news are told by when they were, over a restart, and go after a month', async () => {
  const dir = folder();
  const first = await open(dir);
  const backup = {
    ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: AT }),
    endedAt: AT + HOUR,
  };
  const command = newCommandRun({ volume: 'stripe', name: 'tape', cause: 'nightly', startedAt: AT });
  await first.history.putRun({ kind: 'backup', run: backup }, AT + HOUR);
  await first.history.putRun({ kind: 'command', run: command }, AT);
  await first.history.putRun({ kind: 'backup', run: backup }, SPAN.until);
  await first.history.putNews({ event: 'first', advisory: advisoryOf('stripe'), at: AT + 5 });
  await first.history.putNews({ event: 'cleared', advisory: advisoryOf('stripe'), at: AT + 9 });
  await first.history.putNews({ event: 'first', advisory: advisoryOf('before'), at: AT - 1 });
  await first.close();
  const { history } = await open(dir);
  expect(await history.runs(SPAN)).toEqual([
    { kind: 'command', run: command },
    { kind: 'backup', run: backup },
  ]);
  expect((await history.news(SPAN)).map(({ event, advisory, at }) => [event, advisory.subject, at])).toEqual([
    ['first', 'stripe', AT + 5],
    ['cleared', 'stripe', AT + 9],
  ]);
  const everything = { from: 0, until: AT + 2 * NEWS_KEPT_MS };
  await history.putNews({ event: 'first', advisory: advisoryOf('later'), at: AT + 5 + NEWS_KEPT_MS });
  expect((await history.news(everything)).map(({ advisory }) => advisory.subject)).toEqual([
    'stripe',
    'stripe',
    'later',
  ]);
  await history.putNews({ event: 'first', advisory: advisoryOf('later'), at: AT + 10 + NEWS_KEPT_MS });
  expect((await history.news(everything)).map(({ advisory }) => advisory.subject)).toEqual(['later', 'later']);
});

describe('reports in the queue', () => {
  const report = (day: string, at = AT): ReportMessage => ({
    ...{
      channel: 'mail',
      event: 'report',
      advisory: null,
      day,
      until: at,
      title: `of ${day}`,
      text: 'All is well.',
      at,
    },
  });

  test('one for each channel and day, whatever the clocks say then, and over a restart', async () => {
    const dir = folder();
    const store = await open(dir);
    expect(await store.messages.putReport(report('2027-03-04'))).toBe(true);
    expect(await store.messages.putReport(report('2027-03-04', AT + HOUR))).toBe(false);
    expect(await store.messages.putReport({ ...report('2027-03-04'), channel: 'night' })).toBe(true);
    await store.close();
    const { messages } = await open(dir);
    expect(await messages.putReport(report('2027-03-04', AT + 2 * HOUR))).toBe(false);
    expect(await messages.reportsOf('mail', '2027-03-04', AT)).toEqual({ isMade: true, sentUntil: null });
    expect(await messages.reportsOf('mail', '2027-03-05', AT)).toEqual({ isMade: false, sentUntil: null });
    // It goes in quiet hours as well.
    expect(await messages.next('mail', 'critical')).toEqual({ ...report('2027-03-04'), seq: 1 });
  });

  test('up to when the last tells is known once it was answered; what was handed over and not answered comes again', async () => {
    const { messages } = await open(folder());
    await messages.putReport(report('2027-03-04'));
    const seq = (await messages.next('mail', 'notice'))?.seq ?? 0;
    await messages.begin(seq);
    expect(await messages.resume(['mail'])).toEqual({ dropped: 0 });
    expect((await messages.next('mail', 'notice'))?.seq).toBe(seq);
    await messages.end(seq, 'again');
    expect(await messages.reportsOf('mail', '2027-03-04', AT + 1)).toMatchObject({ sentUntil: null });
    await messages.begin(seq);
    await messages.end(seq, 'sent');
    expect(await messages.next('mail', 'notice')).toBeNull();
    expect(await messages.reportsOf('mail', '2027-03-05', AT + 1)).toEqual({ isMade: false, sentUntil: AT });
    // By a clock that was set back it has not been yet.
    expect(await messages.reportsOf('mail', '2027-03-03', AT)).toEqual({ isMade: false, sentUntil: null });
  });

  test('one that was given up was not sent; one that still waits gives way to the next', async () => {
    const { messages } = await open(folder());
    await messages.putReport(report('2027-03-04'));
    await messages.putReport(report('2027-03-05', AT + 24 * HOUR));
    const next = await messages.next('mail', 'notice');
    expect(next).toMatchObject({ title: 'of 2027-03-05' });
    await messages.end(next?.seq ?? 0, 'given-up');
    expect(await messages.next('mail', 'notice')).toBeNull();
    expect(await messages.reportsOf('mail', '2027-03-06', AT + 48 * HOUR)).toEqual({ isMade: false, sentUntil: null });
  });

  test('a channel that is new has none on the day that it is told, one that is known is left as it is', async () => {
    const { messages } = await open(folder());
    await messages.beginReports('mail', '2027-03-04', AT);
    await messages.beginReports('mail', '2027-03-05', AT);
    expect(await messages.reportsOf('mail', '2027-03-04', AT + 1)).toEqual({ isMade: true, sentUntil: null });
    expect(await messages.reportsOf('mail', '2027-03-05', AT + 1)).toEqual({ isMade: false, sentUntil: null });
    expect(await messages.putReport(report('2027-03-04'))).toBe(false);
  });

  test('days of more than a year ago are forgotten', async () => {
    const { messages } = await open(folder());
    await messages.putReport(report('2027-03-04'));
    await messages.putReport(report('2028-04-07', AT + 399 * 24 * HOUR));
    expect(await messages.reportsOf('mail', '2027-03-04', AT)).toMatchObject({ isMade: true });
    await messages.putReport(report('2028-04-08', AT + 401 * 24 * HOUR));
    expect(await messages.reportsOf('mail', '2027-03-04', AT)).toMatchObject({ isMade: false });
  });
});
