import type { DatabaseSync, StatementSync } from 'node:sqlite';
import type { Advisory } from '../../core/advise/advisory.ts';
import type { Instant } from '../../core/model.ts';
import {
  type AdvisoryNews,
  type ArrivedSum,
  type EndedRun,
  NEWS_KEPT_MS,
  type NotDecoded,
  type ReadSum,
  type Span,
} from '../../core/report-ports.ts';
import { inTransaction } from './transaction.ts';

/** What is told of the time that has gone by (`HistoryPort`). Each is read through an index by time. */
export interface HistoryRows {
  arrived(span: Span): ArrivedSum[];
  notDecoded(span: Span, most: number): NotDecoded[];
  hasOlder(volume: string, at: Instant): boolean;
  copiesRead(shelf: string, span: Span): ReadSum[];
  runs(span: Span): EndedRun[];
  putRun(run: EndedRun, endedAt: Instant): void;
  news(span: Span): AdvisoryNews[];
  putNews(news: AdvisoryNews): void;
}

const KIND = "json_extract(json, '$.kind')";
const FOOTAGE = 'FILTER (WHERE exposable = 1)';
const MADE = `FILTER (WHERE exposable = 0 AND ${KIND} IN ('proxy', 'render'))`;
const NOT_DECODED = "json_extract(json, '$.state') = 'not-decoded'";

/** Clips in the trash are none. */
const IN_SPAN = "FROM clip INDEXED BY clip_newest WHERE ready_at >= :from AND ready_at < :until AND area <> 'trash'";

const ARRIVED = `
  SELECT volume, area, project, count(*) ${FOOTAGE} AS clips, coalesce(sum(bytes) ${FOOTAGE}, 0) AS bytes,
    coalesce(sum(duration_us) ${FOOTAGE}, 0) AS duration,
    count(*) FILTER (WHERE exposable = 1 AND duration_us = 0 AND ${KIND} IN ('original', 'sound')) AS untimed,
    count(*) FILTER (WHERE exposable = 1 AND ${NOT_DECODED}) AS notDecoded,
    min(ready_at) ${FOOTAGE} AS firstAt, max(ready_at) ${FOOTAGE} AS lastAt,
    count(*) ${MADE} AS madeClips, coalesce(sum(bytes) ${MADE}, 0) AS madeBytes
  ${IN_SPAN} GROUP BY volume, area, project ORDER BY volume, area, project`;

const COPIES_READ = `
  SELECT copy.volume, copy.grade, copy.state, copy.copied_at >= :from AS isNew, count(*) AS files, sum(content.size) AS bytes
  FROM ledger.copy AS copy INDEXED BY copy_by_age CROSS JOIN ledger.content AS content ON content.id = copy.content
  WHERE copy.shelf = :shelf AND copy.read_at >= :from AND copy.read_at < :until
  GROUP BY 1, 2, 3, 4 ORDER BY 1, 4 DESC, 2, 3`;

export function openHistoryRows(database: DatabaseSync): HistoryRows {
  const arrived = database.prepare(ARRIVED);
  const notDecoded = database.prepare(`
    SELECT volume, project, json_extract(json, '$.name') AS name
    ${IN_SPAN} AND exposable = 1 AND ${NOT_DECODED} ORDER BY ready_at LIMIT :most`);
  const older = database.prepare('SELECT 1 FROM clip WHERE volume = ? AND ready_at < ? LIMIT 1');
  const copiesRead = database.prepare(COPIES_READ);
  const runs = openTimed(database, { table: 'ended_run', at: 'ended_at', what: 'kind' });
  const news = openTimed(database, { table: 'news', at: 'at', what: 'event' });
  return {
    arrived: (span) => all(arrived, span).map(toArrived),
    notDecoded: (span, most) =>
      notDecoded.all({ ...whole(span), most }).map(({ volume, project, name }) => ({
        ...{ volume: String(volume), project: project === null ? null : String(project), name: String(name) },
      })),
    hasOlder: (volume, at) => older.get(volume, Math.round(at)) !== undefined,
    copiesRead: (shelf, span) =>
      copiesRead
        .all({ ...whole(span), shelf })
        .map(({ isNew, ...row }) => ({ ...row, isNew: isNew === 1 }) as unknown as ReadSum),
    runs: (span) => runs.in(span).map(({ what, json }) => ({ kind: what, run: JSON.parse(json) }) as EndedRun),
    putRun: ({ kind, run }, endedAt) => runs.put(endedAt, kind, run),
    news: (span) =>
      news.in(span).map(({ at, what, json }) => {
        return { event: what as AdvisoryNews['event'], advisory: JSON.parse(json) as Advisory, at };
      }),
    putNews: ({ event, advisory, at }) => news.put(at, event, advisory),
  };
}

function toArrived(row: Record<string, unknown>): ArrivedSum {
  const { duration, madeClips, madeBytes, ...sum } = row;
  return {
    ...(sum as unknown as ArrivedSum),
    durationSeconds: Number(duration) / 1e6,
    made: { clips: Number(madeClips), bytes: Number(madeBytes) },
  };
}

/** A table of what was when: read by time, and what is old is dropped. */
function openTimed(database: DatabaseSync, { table, at, what }: { table: string; at: string; what: string }) {
  const put = database.prepare(`INSERT INTO ledger.${table} (${at}, ${what}, json) VALUES (?, ?, ?)`);
  const drop = database.prepare(`DELETE FROM ledger.${table} WHERE ${at} < ?`);
  const find = database.prepare(`
    SELECT ${at} AS at, ${what} AS what, json FROM ledger.${table} WHERE ${at} >= :from AND ${at} < :until ORDER BY ${at}, id`);
  return {
    in: (span: Span) =>
      all(find, span).map((row) => ({ at: Number(row['at']), what: String(row['what']), json: String(row['json']) })),
    put: (when: Instant, said: string, value: object) =>
      inTransaction(database, () => {
        put.run(Math.round(when), said, JSON.stringify(value));
        drop.run(Math.round(when - NEWS_KEPT_MS));
      }),
  };
}

const all = (statement: StatementSync, span: Span) => statement.all(whole(span));

const whole = ({ from, until }: Span) => ({ from: Math.round(from), until: Math.round(until) });
