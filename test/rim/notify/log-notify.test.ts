import { expect, test } from 'vitest';
import type { Advisory } from '../../../src/core/advise/advisory.ts';
import type { Log } from '../../../src/core/ports.ts';
import { logNotify } from '../../../src/rim/notify/log-notify.ts';

const advisory: Advisory = {
  id: 'speed-overrun:stripe',
  kind: 'speed-overrun',
  severity: 'warning',
  subject: 'stripe',
  message: 'stripe: too much is asked of it.',
  since: 0,
  figures: { demandBps: 5 },
  remedies: [
    { action: 'Play 4 of the 5 angles at once', effect: 'needs 4 of 5' },
    { action: 'Something else', effect: 'less' },
  ],
};

function lines(announce: (notify: ReturnType<typeof logNotify>) => void): string[] {
  const said: string[] = [];
  const at = (level: string) => (_fields: object, message: string) => void said.push(`${level} ${message}`);
  const log: Log = { debug: at('debug'), info: at('info'), warn: at('warn'), error: at('error') };
  announce(logNotify(log, { now: () => 26 * 3_600_000 }));
  return said;
}

test('says what is raised with the best remedy, at its severity', () => {
  expect(lines((notify) => notify.announce('first', advisory))).toEqual([
    'warn stripe: too much is asked of it. Play 4 of the 5 angles at once: needs 4 of 5.',
  ]);
  expect(lines((notify) => notify.announce('worse', { ...advisory, severity: 'critical', remedies: [] }))).toEqual([
    'error Worse: stripe: too much is asked of it.',
  ]);
  expect(lines((notify) => notify.announce('reminder', { ...advisory, severity: 'notice', remedies: [] }))).toEqual([
    'info Still, after 26 h: stripe: too much is asked of it.',
  ]);
});

test('what is over is told as over, not as the old trouble', () => {
  expect(lines((notify) => notify.announce('cleared', advisory))).toEqual([
    'info Over: stripe can give what is asked of it again.',
  ]);
});
