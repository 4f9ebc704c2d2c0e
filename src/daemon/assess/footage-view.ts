import type { DifferingTake, MulticamGroup } from '../../core/assess/assessment.ts';
import { goneProject } from '../../core/assess/gone-project.ts';
import { assessMade, withLackingMade } from '../../core/assess/made.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import type { CopiesWanted, ProjectCopies } from '../../core/backup/project-copies.ts';
import type { SumStorePort } from '../../core/cards/known-list.ts';
import type { Clip, Instant } from '../../core/model.ts';
import type { CataloguePort, ProjectSum } from '../../core/store-ports.ts';
import { within } from '../patience.ts';
import { differingTakes } from './differing-takes.ts';
import { createMulticamView, type MulticamDeps } from './multicam-view.ts';
import type { KnownFootage } from './volume-source.ts';

/** So many of the newest clips stand for what is being shot now. */
const SOME = 50;

/** Far more than are ever told: one that is left out here would count as whole, or as read. */
const MOST_LACKING = 5_000;

/** A pass waits this long for multicam groups; a search that takes longer is shown when it is through. */
const searchMs = 500;

/** A pass looks so long for clips that are one take; what is left is the next one's. */
const joinMs = 300;

/** Sums are read again after this long even if nobody told of a change, which costs next to nothing that seldom. */
const rereadMs = 30_000;

/** Reading when footage came takes at most this share of the time while more comes. */
const hoursShare = 0.05;

interface Hours {
  /** Not read again before, in ticks. */
  restsUntil: number;
  list: readonly { hour: number; bytes: number }[];
}

function keyOf({ volume, project }: { volume: string; project: string | null }): string {
  return `${volume}\n${project ?? ''}`;
}

function placeOf({ volume, area, project }: Pick<ProjectSum, 'volume' | 'area' | 'project'>): string {
  return JSON.stringify([volume, area, project]);
}

export interface FootageDeps extends MulticamDeps {
  catalogue: CataloguePort;
  contents: Pick<SumStorePort, 'versionsAt'>;
  copies: Pick<BackupStorePort, 'projectCopies'>;
  /** `readSince`: copies that were read later count. */
  wanted: () => { wanted: CopiesWanted; readSince: Instant };
  /** Whether a volume was looked through since its catalogue was begun: what is not known until then may be there all the same. */
  isLookedThrough: (volume: string) => boolean;
  /** Names of those that are configured. */
  volumes: ReadonlySet<string>;
  /** Multicam groups were found after the pass that asked for them. */
  found: () => void;
}

export interface FootageView {
  /** Files or clips of this project changed. */
  touch(volume: string, project: string | null): void;
  /** What is covered by copies is counted anew. */
  touchCopies(): void;
  read(): Promise<KnownFootage>;
  /** Multicam groups are still to be searched for. */
  isBehind(): boolean;
  stop(): void;
}

/** The footage as the catalogue has it, read again where it changed; with its multicam groups as far as they are found. */
export function createFootageView(deps: FootageDeps): FootageView {
  const { catalogue, clock, volumes } = deps;
  const multicam = createMulticamView(deps);
  const newest = new Map<string, Clip[]>();
  const lacking = new Map<string, Clip[]>();
  const undecoded = new Map<string, Clip[]>();
  const changedVolumes = new Set<string>();
  const hours = new Map<string, Hours>();
  const changedProjects = new Set<string>();
  /** Clips came or went since takes were looked for, or there are more folders to look through. */
  let takesOpen = true;
  let sums: ProjectSum[] = [];
  let copies = new Map<string, ProjectCopies>();
  let differing = new Map<string, DifferingTake[]>();
  let wanted: CopiesWanted = { copies: 1, byVolume: {} };
  /** Of what searches had found when the sums were read. */
  let foundAt = 0;
  let readAt = Number.NEGATIVE_INFINITY;

  async function joinTakes(): Promise<void> {
    const began = clock.ticks();
    while (takesOpen && clock.ticks() - began < joinMs) {
      // Set first: what comes while they are looked for makes it open again.
      takesOpen = false;
      const { more, changed } = await catalogue.joinTakes().catch((error: unknown) => {
        takesOpen = true;
        throw error;
      });
      for (const { volume, project } of changed) noteChange(volume, project);
      takesOpen ||= more;
    }
  }

  function noteChange(volume: string, project: string | null): void {
    readAt = Number.NEGATIVE_INFINITY;
    changedVolumes.add(volume);
    if (project === null) return;
    multicam.touch(volume, project);
    changedProjects.add(keyOf({ volume, project }));
  }

  async function readSums(): Promise<void> {
    const before = readAt;
    if (clock.ticks() - before < rereadMs && multicam.found() === foundAt) return;
    // Set first: what changes while it is read makes it old again.
    readAt = clock.ticks();
    foundAt = multicam.found();
    try {
      const asked = deps.wanted();
      wanted = asked.wanted;
      // What is known of volumes that are no longer configured is kept, and not shown.
      const here = (await catalogue.projects(wanted.copies, wanted.byVolume)).filter(({ volume }) =>
        volumes.has(volume),
      );
      copies = await readCopies(asked);
      const known = new Set(here.map(placeOf));
      const gone = [...copies.values()].filter((one) => one.onlyOnShelf !== null && !known.has(placeOf(one)));
      sums = [...here, ...gone.map(goneProject)];
      differing = await readDiffering(sums);
    } catch (error) {
      readAt = Number.NEGATIVE_INFINITY;
      throw error;
    }
  }

  async function readCopies(asked: ReturnType<FootageDeps['wanted']>): Promise<Map<string, ProjectCopies>> {
    const found = (await deps.copies.projectCopies(asked.wanted, asked.readSince)) ?? [];
    const mine = found.filter(({ volume }) => volumes.has(volume));
    return new Map(
      mine.map((one) => [placeOf(one), deps.isLookedThrough(one.volume) ? one : { ...one, onlyOnShelf: null }]),
    );
  }

  async function readDiffering(all: readonly ProjectSum[]): Promise<Map<string, DifferingTake[]>> {
    const found = new Map<string, DifferingTake[]>();
    for (const { volume, project } of all) {
      const some = project === null ? [] : (multicam.signs(volume, project)?.twice.some ?? []);
      if (some.length > 0) found.set(keyOf({ volume, project }), await differingTakes(volume, some, deps.contents));
    }
    return found;
  }

  async function readNewest(): Promise<void> {
    for (const volume of new Set(sums.map((sum) => sum.volume))) {
      if (newest.has(volume) && !changedVolumes.delete(volume)) continue;
      newest.delete(volume);
      newest.set(volume, await catalogue.clips({ volume, newest: SOME }));
      lacking.set(volume, await catalogue.lacking(volume, MOST_LACKING));
      undecoded.set(volume, await catalogue.undecoded(volume, MOST_LACKING));
    }
  }

  /** A large project takes a while to read: while more comes what was read before is told. */
  async function readHours(): Promise<void> {
    for (const sum of sums) {
      const { volume, project, area } = sum;
      if (project === null || area !== 'project') continue;
      const known = hours.get(keyOf(sum));
      const isDue = known === undefined || (changedProjects.has(keyOf(sum)) && clock.ticks() >= known.restsUntil);
      if (!isDue) continue;
      const began = clock.ticks();
      changedProjects.delete(keyOf(sum));
      const list = await catalogue.footageHours(volume, project);
      hours.set(keyOf(sum), { restsUntil: clock.ticks() + (clock.ticks() - began) / hoursShare, list });
    }
  }

  /** Of a project whose groups are not known yet asking begins the search. */
  const groupsOf = ({ volume, project }: ProjectSum) => (project === null ? [] : multicam.groups(volume, project));

  function assessProject(sum: ProjectSum, groups: MulticamGroup[]): KnownFootage['projects'][number] {
    const signs = sum.project === null ? null : multicam.signs(sum.volume, sum.project);
    const mine = copies.get(placeOf(sum)) ?? null;
    const made = assessMade(sum, signs, mine);
    // Where no copies are wanted nothing is exposed.
    const exposed = (wanted.byVolume[sum.volume] ?? wanted.copies) < 1 ? sum : withLackingMade(sum, made);
    const ofSum = (clips: Map<string, Clip[]>) =>
      (clips.get(sum.volume) ?? []).filter(({ area, project }) => area === sum.area && project === sum.project);
    const came = hours.get(keyOf(sum))?.list ?? [];
    return {
      sum: exposed,
      copies: mine,
      multicam: groups,
      made,
      twice: signs?.twice ?? null,
      hours: came,
      lacking: ofSum(lacking),
      undecoded: ofSum(undecoded),
      differing: sum.area === 'project' ? (differing.get(keyOf(sum)) ?? []) : [],
    };
  }

  async function searchGroups(): Promise<void> {
    for (const sum of sums) groupsOf(sum);
    const searching = multicam.search();
    if (!(await within(clock, searchMs, searching))) void searching.then(deps.found);
  }

  return {
    touchCopies() {
      readAt = Number.NEGATIVE_INFINITY;
    },
    touch(volume, project) {
      takesOpen = true;
      noteChange(volume, project);
    },
    async read() {
      await joinTakes();
      await readSums();
      await readNewest();
      await readHours();
      await searchGroups();
      // What was made of what may be known otherwise now.
      await readSums();
      const found = sums.map((sum) => ({ sum, groups: groupsOf(sum) }));
      return {
        projects: found.map(({ sum, groups }) => assessProject(sum, groups ?? [])),
        newest,
        unsearched: new Set(found.filter(({ groups }) => groups === null).map(({ sum }) => sum.volume)),
      };
    },
    isBehind: () => takesOpen || multicam.isBehind(),
    stop: multicam.stop,
  };
}
