import { expect, test } from 'vitest';
import type { LoopHealth } from '../../src/core/health.ts';
import type { RootState } from '../../src/core/root-port.ts';
import { NOTHING_TOLD, type ServiceTold, type ServiceView, serviceNotice } from '../../src/core/service-notice.ts';

// Names of assignments and what they mean: sd_notify(3), systemd.service(5).

const loop = (standsStill: boolean, isOutside = false): LoopHealth => ({
  ...{ loop: 'assessment', of: null, waiting: null, movedAt: 0, patienceSeconds: 120 },
  ...{ standsStill, isOutside },
});

const running = (states: readonly RootState[], loops: readonly LoopHealth[] = []): ServiceView => ({
  ...{ phase: 'running', loops },
  volumes: states.map((state, place) => ({ name: `stripe-${place}`, state })),
});

/** All that is said of these views, one second after the other. */
function said(views: readonly ServiceView[], pulseMs = 1_000, hasWatchdog = true): string[][] {
  let told: ServiceTold = NOTHING_TOLD;
  return views.map((view, second) => {
    const notice = serviceNotice(told, view, { ticks: second * 1_000, pulseMs, hasWatchdog });
    told = notice.told;
    return notice.assignments.filter((one) => !one.startsWith('STATUS='));
  });
}

test('it is ready once of every volume it is known how it is: live, away, or hung', () => {
  expect(
    said([
      { phase: 'opening' },
      running(['starting', 'live']),
      running(['live', 'starting']),
      running(['absent', 'hung', 'live']),
      running(['starting', 'live']),
    ]),
  ).toEqual([
    [],
    ['EXTEND_TIMEOUT_USEC=180000000'],
    ['EXTEND_TIMEOUT_USEC=180000000'],
    ['READY=1', 'WATCHDOG=1'],
    ['WATCHDOG=1'],
  ]);
});

test('a daemon without volumes that are being read is ready at once', () => {
  expect(said([running([])])).toEqual([['READY=1', 'WATCHDOG=1']]);
});

test('that all is well is said at its pace, and while no loop of ours stands still', () => {
  const well = running(['live'], [loop(false)]);
  const still = running(['live'], [loop(false), loop(true)]);
  expect(said([well, well, well, still, still, still, well], 2_000)).toEqual([
    ['READY=1', 'WATCHDOG=1'],
    [],
    ['WATCHDOG=1'],
    [],
    [],
    [],
    ['WATCHDOG=1'],
  ]);
});

test('a loop that waits for a mount that hangs takes nothing away: to be started again would not help', () => {
  const hung = running(['hung'], [loop(true, true)]);
  expect(said([hung, hung])).toEqual([['READY=1', 'WATCHDOG=1'], ['WATCHDOG=1']]);
});

test('a first reading in which a loop of ours stands still gets no more time', () => {
  expect(said([running(['starting'], [loop(true)])])).toEqual([[]]);
});

test('who asks for no watchdog is told of none, and of a long first reading all the same', () => {
  expect(said([running(['starting']), running(['live']), running(['live'])], 1_000, false)).toEqual([
    ['EXTEND_TIMEOUT_USEC=180000000'],
    ['READY=1'],
    [],
  ]);
});

test('a reload begins with one sign of life and ends when it is known anew how each volume is', () => {
  const live = running(['live'], [loop(false)]);
  expect(
    said([live, { phase: 'reloading' }, { phase: 'reloading' }, running(['starting'], [loop(false)]), live]),
  ).toEqual([
    ['READY=1', 'WATCHDOG=1'],
    ['RELOADING=1', 'WATCHDOG=1'],
    [],
    ['EXTEND_TIMEOUT_USEC=180000000', 'WATCHDOG=1'],
    ['READY=1', 'WATCHDOG=1'],
  ]);
});

test('after it stops nothing more is said', () => {
  expect(said([running(['live']), { phase: 'stopping' }, { phase: 'stopping' }, running(['live'])])).toEqual([
    ['READY=1', 'WATCHDOG=1'],
    ['STOPPING=1'],
    [],
    [],
  ]);
});

test('the status is one line, said when it is another: volumes, and what of ours stands still', () => {
  const pace = { ticks: 0, pulseMs: 1_000, hasWatchdog: false };
  const view: ServiceView = {
    ...{ phase: 'running', loops: [loop(true), { ...loop(true, true), loop: 'volume-process', of: 'far' }] },
    volumes: [
      { name: 'stripe', state: 'live' },
      { name: 'shelf\n-a', state: 'absent' },
    ],
  };
  const first = serviceNotice(NOTHING_TOLD, view, pace);
  expect(first.assignments).toEqual([
    'READY=1',
    'STATUS=Watching stripe (live), shelf\\n-a (away). Stands still: assessment.',
  ]);
  expect(serviceNotice(first.told, view, pace).assignments).toEqual([]);
  const many = running(Array.from({ length: 9 }, () => 'hung' as const));
  expect(serviceNotice(first.told, many, pace).assignments).toEqual([
    `STATUS=Watching ${[0, 1, 2, 3, 4, 5].map((place) => `stripe-${place} (does not answer)`).join(', ')} and 3 more.`,
  ]);
  const probing = { ...running(['live']), loops: [{ ...loop(true), loop: 'intake', of: 'stripe' }] } as ServiceView;
  expect(serviceNotice(first.told, probing, pace).assignments).toEqual([
    'STATUS=Watching stripe-0 (live). Stands still: intake of stripe.',
  ]);
  for (const phase of ['opening', 'reloading', 'stopping'] as const)
    expect(serviceNotice(NOTHING_TOLD, { phase }, pace).told.status).toMatch(/^[A-Z][a-z ]+\.$/);
});
