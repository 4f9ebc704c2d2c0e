import { unitOf } from '../../core/intake/group.ts';
import { isMedia } from '../../core/intake/kind.ts';
import { baseName, extension } from '../../core/intake/path-text.ts';
import { makePlacer, type Placer } from '../../core/intake/place.ts';
import { guessProjectRule } from '../../core/intake/project-rule.ts';
import { outOfScope } from '../../core/intake/scope.ts';
import { frameOf } from '../../core/intake/sequence.ts';
import { isTemporaryName } from '../../core/intake/system-names.ts';
import type { FileRecord, FileStat, PathText, Placement } from '../../core/model.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { VolumeSettings } from '../../settings/settings.ts';

/** Raised when files are grouped in another way: what is known under the old one is looked at again. */
const GROUPING = 2;

/** How the files of one volume are placed, once its project rule is decided. */
export interface Placing {
  place: Placer;
  /** Records of files as they were seen. What nobody waits for (a cache, a document) is ready at once. */
  records(files: readonly FileStat[]): FileRecord[];
  projectsOf(paths: readonly PathText[]): (string | null)[];
}

/** What was taken for a project, for the start message. */
export interface RuleTold {
  rule: string;
  guessed: boolean;
  /** Folder names it rests on. */
  evidence: string[];
  suggestion: string | null;
}

export interface PreparedPlacing {
  placing: Placing;
  told: RuleTold;
  /** What is known was placed by other rules: it must be forgotten and looked at again. */
  startOver: boolean;
  /** Keeps the rule for the next start; to be called when what is known fits it. */
  keep(): Promise<void>;
}

/**
 * Decides the project rule of a volume: a guess is made once and kept, so that a folder added later does not turn
 * one project into many overnight. `folders`: names in the root folder.
 */
export async function preparePlacing(
  volume: VolumeSettings,
  folders: readonly PathText[],
  catalogue: Pick<CataloguePort, 'recall' | 'remember'>,
): Promise<PreparedPlacing> {
  const key = `placing:${volume.name}`;
  const earlier = parse(await catalogue.recall(key));
  const asked = {
    path: volume.path,
    projects: volume.projects,
    shared: volume.shared,
    ignore: volume.ignore,
    ingest: volume.ingest,
    kinds: volume.kinds,
    grouping: GROUPING,
  };
  const sameSettings = earlier !== null && JSON.stringify(earlier.asked) === JSON.stringify(asked);
  const guess = guessProjectRule(folders.map((name) => ({ name, isDir: true })));
  const guessed = volume.projects === 'guess';
  const rule = !guessed ? volume.projects : earlier?.settled && sameSettings ? earlier.rule : guess.rule;
  const settled = !guessed || guess.reason !== 'nothing-to-go-by';
  return {
    placing: makePlacing(volume, rule),
    told: { rule, guessed, evidence: guess.evidence, suggestion: guessed ? guess.suggestion : null },
    keep: () => catalogue.remember(key, JSON.stringify({ asked, rule, settled })),
    startOver: earlier !== null && (!sameSettings || earlier.rule !== rule),
  };
}

function parse(text: string | null): { asked: unknown; rule: string; settled: boolean } | null {
  return text === null ? null : JSON.parse(text);
}

const LEFT_OUT: Placement = { area: 'system', project: null, kind: 'other', reason: 'left out' };

function makePlacing(volume: VolumeSettings, rule: string): Placing {
  const { shared, ignore, kinds, path: root } = volume;
  const placer = makePlacer(rule, { shared, ignore, kinds, rootName: baseName(root) });
  const leftOut = outOfScope(volume);
  const place: Placer = (path) => (leftOut(path) ? LEFT_OUT : placer(path));

  function record(file: FileStat): FileRecord {
    const { area, project, kind } = place(file.path);
    const waits = area !== 'trash' && waitsFor(file.path, kind);
    const unit = area === 'trash' ? file.path : unitOf(file.path, kind);
    return { ...file, volume: volume.name, area, project, kind, unit, state: waits ? 'arriving' : 'ready' };
  }

  return {
    place,
    records: (files) => files.map(record),
    projectsOf: (paths) => paths.map((path) => place(path).project),
  };
}

/** Footage, what belongs to it, and what is about to become it are arrivals; the rest counts as it lies there. */
function waitsFor(path: PathText, kind: FileRecord['kind']): boolean {
  if (isTemporaryName(baseName(path))) return true;
  return isMedia(kind, extension(path)) || kind === 'sidecar' || kind === 'still' || frameOf(path) !== null;
}
