import type { Log, NotifyPort } from '../../core/ports.ts';

const openings = {
  first: '',
  worse: 'Worse: ',
  cleared: 'Over: ',
  reminder: 'Still: ',
} as const;

/** Announces in the log. The first channel; others stand behind the same port. */
export function logNotify(log: Log): NotifyPort {
  return {
    announce(event, advisory) {
      const fields = { advisory: advisory.id, event, severity: advisory.severity, figures: advisory.figures };
      const best = advisory.remedies[0];
      const remedy = best === undefined || event === 'cleared' ? '' : ` ${best.action}: ${best.effect}.`;
      const line = `${openings[event]}${advisory.message}${remedy}`;
      if (event === 'cleared' || advisory.severity === 'notice') log.info(fields, line);
      else if (advisory.severity === 'critical') log.error(fields, line);
      else log.warn(fields, line);
    },
  };
}
