import type { DatabaseSync } from 'node:sqlite';
import { type CardLists, joinTakes } from '../../core/intake/join.ts';
import type { Join } from '../../core/intake/join-candidate.ts';
import { joinedClip } from '../../core/intake/joined-clip.ts';
import type { PathText } from '../../core/model.ts';
import type { JoinedTakes } from '../../core/store-ports.ts';
import { emptyChange } from './catalogue-writes.ts';
import { clipFromJson } from './clip-json.ts';
import type { BasedClip, ClipWrites, SumChange } from './clip-writes.ts';
import type { Sums } from './sums.ts';
import { inTransaction } from './transaction.ts';

/** Folders looked through in one call, which is to be short: others wait for the store meanwhile. */
const SCOPES = 8;

/** A clip of a folder, with the take that it is a part of now. */
interface Member extends BasedClip {
  take: string | null;
}

/** `CataloguePort.joinTakes`: looks through some of the folders where clips came or went that may be parts of one take. */
export function openJoins(
  database: DatabaseSync,
  { clips, sums, listsOf }: { clips: ClipWrites; sums: Sums; listsOf: (volume: string, scope: PathText) => CardLists },
): () => JoinedTakes {
  const next = database.prepare('SELECT volume, scope FROM open_scope LIMIT ?');
  const done = database.prepare('DELETE FROM open_scope WHERE volume = ? AND scope = ?');
  const membersOf = openMembers(database);

  function joinScope(change: SumChange, volume: string, scope: PathText): BasedClip[] {
    const { members, known } = membersOf(volume, scope);
    const candidates = members.map(({ clip }) => ({ ...clip, clip }));
    const wanted = joinTakes(candidates, listsOf(volume, scope)).filter((join) => isOfOnePlace(join, members));
    const stays = new Set(wanted.flatMap((join) => (known.get(takeOf(join)) === keyOf(join) ? [takeOf(join)] : [])));
    for (const take of known.keys()) if (!stays.has(take)) clips.takeApart(change, volume, take);
    const changed = members.filter(({ take }) => take !== null && !stays.has(take));
    for (const join of wanted) {
      if (stays.has(takeOf(join))) continue;
      const parts = partsOf(join, members);
      clips.join(
        change,
        joinedClip(
          join,
          parts.map(({ clip }) => clip),
        ),
        parts,
      );
      changed.push(...parts.map((part) => ({ ...part, take: null })));
    }
    return changed;
  }

  return () => {
    const scopes = next.all(SCOPES).map((row) => ({ volume: String(row['volume']), scope: String(row['scope']) }));
    const changed = inTransaction(database, () => {
      const change = emptyChange();
      const found = scopes.flatMap(({ volume, scope }) => joinScope(change, volume, scope));
      // Last, for a take that comes apart has its folders looked through again, which has just been done.
      for (const { volume, scope } of scopes) done.run(volume, scope);
      sums.add(change.difference);
      return found;
    });
    const places = changed.map(({ clip }) => ({ volume: clip.volume, project: clip.project }));
    const distinct = new Map(places.map((place) => [JSON.stringify(place), place]));
    return { more: scopes.length === SCOPES, changed: [...distinct.values()] };
  };
}

/**
 * The clips of a folder as they were read, without those that are in a take with clips from elsewhere; and what the takes
 * among them were joined as, by their units.
 */
function openMembers(database: DatabaseSync) {
  const bases = `
    (SELECT base FROM joinable WHERE volume = :volume AND scope = :scope
      UNION SELECT unit FROM file INDEXED BY file_by_path WHERE volume = :volume AND dir = :scope) AS here`;
  const all = database.prepare(`
    SELECT clip.base, clip.json, NULL AS take FROM ${bases}
      CROSS JOIN clip ON clip.volume = :volume AND clip.base = here.base
    WHERE NOT EXISTS (SELECT 1 FROM part WHERE part.volume = clip.volume AND part.take = clip.unit)
    UNION ALL
    SELECT part.base, part.json, part.take FROM ${bases}
      CROSS JOIN part ON part.volume = :volume AND part.base = here.base`);
  const sizeOf = database.prepare('SELECT count(*) AS parts FROM part WHERE volume = ? AND take = ?');
  const takeRow = database.prepare('SELECT json FROM clip WHERE volume = ? AND unit = ?');
  return (volume: string, scope: PathText): { members: Member[]; known: Map<string, string> } => {
    const found = all.all({ volume, scope }).map((row): Member => {
      const take = row['take'];
      return {
        base: String(row['base']),
        clip: clipFromJson(String(row['json'])),
        take: take === null ? null : String(take),
      };
    });
    const known = new Map<string, string>();
    const elsewhere = new Set<string>();
    for (const [take, parts] of Map.groupBy(found, (member) => member.take)) {
      if (take === null) continue;
      const isWhole = Number(sizeOf.get(volume, take)?.['parts']) === parts.length;
      const row = takeRow.get(volume, take);
      if (!isWhole || row === undefined) elsewhere.add(take);
      else {
        const { groupedBy, missingNames } = clipFromJson(String(row['json']));
        known.set(take, keyText(parts.map(({ clip }) => clip.unit).sort(), groupedBy, missingNames));
      }
    }
    return { members: found.filter(({ take }) => take === null || !elsewhere.has(take)), known };
  };
}

/** A take has the unit of its first part. */
function takeOf({ units: [first = ''] }: Join): string {
  return first;
}

function keyOf({ units, reason, missing }: Join): string {
  return keyText(units.toSorted(), reason, missing);
}

function keyText(units: readonly string[], reason: string, missing: readonly string[]): string {
  return JSON.stringify([units, reason, missing]);
}

function partsOf({ units }: Join, members: readonly Member[]): BasedClip[] {
  return units.flatMap((unit) => members.find(({ clip }) => clip.unit === unit) ?? []);
}

/** What lies in two projects is not one take, whatever it carries. */
function isOfOnePlace(join: Join, members: readonly Member[]): boolean {
  const places = partsOf(join, members).map(({ clip: { area, project } }) => JSON.stringify([area, project]));
  return new Set(places).size === 1;
}
