import type { ProjectSnapshot } from '../present/snapshot-project.ts';
import { type Family, familiesOf, type Row } from './family.ts';

/** More projects than this are told together: each name is a series of its own for as long as they are kept. */
const MOST_PROJECTS = 100;

/** What those are called that are told together. A project of this name is among them. */
const OTHERS = '(others)';

/** One project, or several of a volume together. */
interface ProjectFigures {
  volume: string;
  project: string;
  bytes: number;
  footageBytes: number;
  clips: number;
  footageSeconds: number;
  exposedBytes: number | null;
  exposedClips: number | null;
  onlyOnShelfBytes: number | null;
}

const ROWS: readonly Row<ProjectFigures>[] = [
  {
    name: 'headroomd_project_size_bytes',
    unit: 'bytes',
    help: 'All that lies in a project.',
    of: ({ bytes }) => bytes,
  },
  {
    name: 'headroomd_project_footage_bytes',
    unit: 'bytes',
    help: 'Its footage.',
    of: ({ footageBytes }) => footageBytes,
  },
  {
    name: 'headroomd_project_clips',
    unit: null,
    help: 'Its clips; the files of a take are one.',
    of: ({ clips }) => clips,
  },
  {
    name: 'headroomd_project_footage_seconds',
    unit: 'seconds',
    help: 'Running time of its footage.',
    of: ({ footageSeconds }) => footageSeconds,
  },
  {
    name: 'headroomd_project_exposed_bytes',
    unit: 'bytes',
    help: 'Its footage with fewer verified copies than wanted.',
    of: ({ exposedBytes }) => exposedBytes,
  },
  {
    name: 'headroomd_project_exposed_clips',
    unit: null,
    help: 'Its clips with fewer verified copies than wanted.',
    of: ({ exposedClips }) => exposedClips,
  },
  {
    name: 'headroomd_project_only_on_shelf_bytes',
    unit: 'bytes',
    help: 'What was on the volume and is left on shelves alone.',
    of: ({ onlyOnShelfBytes }) => onlyOnShelfBytes,
  },
];

/** The largest projects by name, the others of each volume together. */
export function projectFamilies(projects: readonly ProjectSnapshot[], volumes: readonly string[]): Family[] {
  const { named, others } = divided(projects);
  const told = [...named, ...volumes.flatMap((volume) => together(volume, others))];
  const folded = volumes.map((volume) => ({
    labels: { volume },
    value: others.filter((one) => one.volume === volume).length,
  }));
  return [
    ...familiesOf(ROWS, told, ({ volume, project }) => ({ volume, project })),
    {
      ...{ name: 'headroomd_projects_folded', type: 'gauge', unit: null },
      help: `Projects that are not told by name but together as "${OTHERS}": all but the ${MOST_PROJECTS} largest.`,
      samples: folded,
    },
  ];
}

/** Names that read alike once escaped cannot be told apart: but for the largest, their projects are among the others. */
function divided(projects: readonly ProjectSnapshot[]): { named: ProjectFigures[]; others: ProjectFigures[] } {
  const named: ProjectFigures[] = [];
  const others: ProjectFigures[] = [];
  const names = new Set<string>();
  const bySize = projects.map(figuresOf).sort((one, other) => other.bytes - one.bytes);
  for (const figures of bySize) {
    const key = JSON.stringify([figures.volume, figures.project]);
    const isNamed = figures.project !== OTHERS && named.length < MOST_PROJECTS && !names.has(key);
    (isNamed ? named : others).push(figures);
    if (isNamed) names.add(key);
  }
  return { named, others };
}

function together(volume: string, others: readonly ProjectFigures[]): ProjectFigures[] {
  const mine = others.filter((one) => one.volume === volume);
  if (mine.length === 0) return [];
  const sum = (of: (one: ProjectFigures) => number) => mine.reduce((total, one) => total + of(one), 0);
  const known = (of: (one: ProjectFigures) => number | null) =>
    mine.some((one) => of(one) === null) ? null : sum((one) => of(one) ?? 0);
  return [
    {
      ...{ volume, project: OTHERS, bytes: sum(({ bytes }) => bytes), clips: sum(({ clips }) => clips) },
      footageBytes: sum(({ footageBytes }) => footageBytes),
      footageSeconds: sum(({ footageSeconds }) => footageSeconds),
      exposedBytes: known(({ exposedBytes }) => exposedBytes),
      exposedClips: known(({ exposedClips }) => exposedClips),
      onlyOnShelfBytes: known(({ onlyOnShelfBytes }) => onlyOnShelfBytes),
    },
  ];
}

function figuresOf({
  volume,
  name,
  bytes,
  footageBytes,
  clips,
  durationSeconds,
  safety,
}: ProjectSnapshot): ProjectFigures {
  return {
    ...{ volume, project: name, bytes, footageBytes, clips, footageSeconds: durationSeconds },
    ...{ exposedBytes: safety.exposedBytes, exposedClips: safety.exposedClips, onlyOnShelfBytes: safety.onlyOnShelf },
  };
}
