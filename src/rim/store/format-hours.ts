import type { DatabaseSync } from 'node:sqlite';
import type { FormatHour } from '../../core/assess/format-days.ts';

const HOUR_MS = 3_600_000;

/** What begins otherwise is no day that anybody could read. */
const ISO_DAY = '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]';

/** Bytes of a project's clips by format and hour. Reads all of them: 100,000 take about half a second. */
export function openFormatHours(database: DatabaseSync): { hours(volume: string, project: string): FormatHour[] } {
  const all = database.prepare(`
    SELECT day, iif(day IS NULL, ready_at / ${HOUR_MS}, 0) AS hour, codec, width, height, num, den, sum(bytes) AS bytes
    FROM (
      SELECT iif(recorded GLOB '${ISO_DAY}*', substr(recorded, 1, 10), NULL) AS day, *
      FROM (
        SELECT json_extract(json, '$.facts.recordedAt') AS recorded, ready_at, bytes,
          json_extract(json, '$.facts.codec') AS codec, json_extract(json, '$.facts.width') AS width,
          json_extract(json, '$.facts.height') AS height, json_extract(json, '$.facts.frameRate.num') AS num,
          json_extract(json, '$.facts.frameRate.den') AS den
        FROM clip INDEXED BY clip_newest_of_project WHERE volume = ? AND project = ? AND exposable = 1))
    GROUP BY 1, 2, 3, 4, 5, 6, 7 ORDER BY 1, 2, 3, 4, 5, 6, 7`);
  return {
    hours: (volume, project) =>
      all.all(volume, project).map((row) => {
        const { day, hour, codec, width, height, num, den, bytes } = row;
        return {
          day: day === null ? null : String(day),
          hour: Number(hour),
          codec: codec === null ? null : String(codec),
          width: width === null ? null : Number(width),
          height: height === null ? null : Number(height),
          frameRate: num === null || den === null ? null : { num: Number(num), den: Number(den) },
          bytes: Number(bytes),
        };
      }),
  };
}
