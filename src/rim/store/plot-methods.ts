import type { DatabaseSync } from 'node:sqlite';
import { openFormatHours } from './format-hours.ts';
import type { StoreTable } from './method-table.ts';
import { openMomentRows } from './moment-rows.ts';

/** What plots are drawn of: how volumes stood, and what was recorded on each day. */
export function openPlotMethods(database: DatabaseSync): Pick<StoreTable, 'formatHours' | 'moments' | 'putMoments'> {
  const moments = openMomentRows(database);
  const formats = openFormatHours(database);
  return {
    formatHours: ({ volume, project }) => ({ value: null, list: formats.hours(volume, project) }),
    moments: ({ volume, grain, since }) => ({ value: null, list: moments.get(volume, grain, since) }),
    putMoments({ volume, grain, forget }, list) {
      moments.put(volume, grain, list, forget);
      return { value: null, list: [] };
    },
  };
}
