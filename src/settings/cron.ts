import { readCronFields } from '../core/backup/cron-fields.ts';
import { type Reading, refused, understood } from './reading.ts';

/** A time of the day in cron's five fields, in one-space form ("0 4 * * *"). The hint of a refusal names the field. */
export function parseCron(text: string): Reading<string> {
  const read = readCronFields(text);
  return typeof read === 'string' ? refused(read) : understood(text.trim().split(/\s+/).join(' '));
}
