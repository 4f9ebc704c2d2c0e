import { expect, test } from 'vitest';
import { formatFor } from '../../../src/core/metrics/accept.ts';

/** What collectors really send: the first two by Prometheus 2.42 and 3.0 (`acceptHeader` in its scrape package), from memory. */
test.each([
  [
    'openmetrics',
    'application/openmetrics-text;version=1.0.0,application/openmetrics-text;version=0.0.1;q=0.75,text/plain;version=0.0.4;q=0.5,*/*;q=0.1',
  ],
  [
    'openmetrics',
    'application/openmetrics-text;version=1.0.0;escaping=allow-utf-8;q=0.5,application/openmetrics-text;version=0.0.1;q=0.4,text/plain;version=1.0.0;escaping=allow-utf-8;q=0.3,text/plain;version=0.0.4;q=0.2,*/*;q=0.1',
  ],
  ['openmetrics', 'application/openmetrics-text'],
  ['openmetrics', ' Application/OpenMetrics-Text ; Version="1.0.0" ; q=1.0'],
  ['openmetrics', 'text/plain;q=0.5, application/openmetrics-text;q=0.5'],
  ['text', 'text/plain;version=0.0.4'],
  ['text', 'application/openmetrics-text;q=0.2, text/plain'],
  ['text', 'application/openmetrics-text;q=0, */*'],
  ['text', 'application/openmetrics-text;version=0.0.1'],
  ['text', 'application/openmetrics-text;q=many'],
  ['text', 'application/openmetrics-text;q=7'],
  ['text', '*/*'],
  ['text', 'text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8'],
  ['text', 'application/json'],
  ['text', ''],
  ['text', undefined],
])('%s for %s', (format, accept) => {
  expect(formatFor(accept)).toBe(format);
});
