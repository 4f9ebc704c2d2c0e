import type { Advisory } from '../../src/core/advise/advisory.ts';
import type { Severity } from '../../src/core/model.ts';

/** An advisory of an invented volume. */
export function advisoryOf(subject: string, severity: Severity = 'warning'): Advisory {
  return {
    id: `capacity-reserve:${subject}`,
    kind: 'capacity-reserve',
    severity,
    subject,
    message: `${subject} has 7.34 MB left above nothing. 10.5 MB are to be kept free.`,
    since: 1_804_183_200_000,
    figures: { freeBytes: 7_340_032, worst: 'Saltmarsh' },
    remedies: [{ action: 'Move renders of Saltmarsh to shelf-a', effect: 'frees 3.2 MB' }],
  };
}
