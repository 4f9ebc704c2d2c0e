import { describe, expect, test } from 'vitest';
import type { ProjectCopies } from '../../../src/core/backup/project-copies.ts';
import { htmlPage } from '../../../src/core/present/html/page.ts';
import { projectSentence } from '../../../src/core/present/sentences.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { statusScreen } from '../../../src/core/present/status-screen.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleCopies, sampleSum } from '../samples.ts';

const ONLY: ProjectCopies['onlyOnShelf'] = {
  ...{ files: 12, bytes: 8e10, footageBytes: 8e10, fewest: 1, oldestReadAt: NOON - 3_600_000 },
  shelves: [
    { name: 'shelf-a', files: 12, bytes: 8e10 },
    { name: 'shelf-b', files: 9, bytes: 6e10 },
  ],
};
const GONE = sampleSum({ bytes: 0, footageBytes: 0, clips: 0, durationSeconds: 0, byKind: {} });
const shown = (copies: ProjectCopies | null, sum = sampleSum()) =>
  snapshot(sampleAssessment({ projects: [{ ...NOTHING_MADE, sum, copies, multicam: [] }] }), [], {
    ...{ version: '0.1.0', page: null, zone: 'UTC' },
  });
const sentenceOf = (copies: ProjectCopies | null, sum = sampleSum()) => {
  const { projects, at } = shown(copies, sum);
  return projects.map((project) => projectSentence(project, at))[0];
};

describe('a project of which nothing is left on its volume', () => {
  const copies = sampleCopies(0, { fewest: null, onlyOnShelf: ONLY });

  test('is one all the same, with what is on shelves alone', () => {
    expect(shown(copies, GONE).projects[0]).toMatchObject({
      ...{ name: 'Tidewater Sessions', bytes: 0, gone: true },
      safety: {
        ...{ exposedBytes: 0, verifiedCopies: 1, onlyOnShelf: 8e10, onlyOnShelfFiles: 12, onlyOnShelfFootage: 8e10 },
        ...{ onlyOnShelfAt: ['shelf-a', 'shelf-b'], onlyOnShelfReadAt: '2027-03-04T11:00:00.000+00:00' },
      },
    });
    expect(shown(copies, GONE).onlyOnShelves).toEqual([
      { volume: 'stripe', project: 'Tidewater Sessions', shelf: 'shelf-a', files: 12, bytes: 8e10 },
      { volume: 'stripe', project: 'Tidewater Sessions', shelf: 'shelf-b', files: 9, bytes: 6e10 },
    ]);
  });

  test('is told on the terminal and on the page, and counted where it is not', () => {
    const told =
      'Nothing of it is left on stripe: 12 files (80.0 GB of footage) are only on shelf-a and shelf-b, each read back at 11:00 or later; "headroomd backup restore-list" tells how to bring them back.';
    expect(sentenceOf(copies, GONE)).toBe(told);
    const screen = statusScreen(shown(copies, GONE), { width: 400, rows: null, old: null });
    expect(screen).toContain(`Tidewater Sessions (stripe): ${told}`);
    expect(htmlPage(shown(copies, GONE))).toContain('Nothing of it is left on stripe: 12 files');
    expect(statusScreen(shown(copies, GONE), { width: 80, rows: 4, old: null })).toContain(
      'Projects: 1 project with 0 B, 1 of them only on shelves.',
    );
  });
});

test('of a project with files here what is gone is told besides, and the fewest copies of both', () => {
  const copies = sampleCopies(9e11, { onlyOnShelf: { ...ONLY, footageBytes: 3e10 } });
  expect(shown(copies).projects[0]).toMatchObject({ gone: false, safety: { verifiedCopies: 1, onlyOnShelf: 8e10 } });
  expect(sentenceOf(copies)).toMatch(
    / All footage of it has a verified copy\. No longer on stripe: 12 files \(80\.0 GB, 30\.0 GB of it footage\) are only on/,
  );
});

test('how many copies all footage has; of some without nothing is said here, and of none known nothing is told', () => {
  expect(sentenceOf(sampleCopies(9e11))).toMatch(/ All footage of it has 2 verified copies on different drives\.$/);
  expect(sentenceOf(sampleCopies(0))).not.toMatch(/verified/);
  expect(shown(null).projects[0]?.safety).toMatchObject({ verifiedCopies: null, onlyOnShelf: null });
});

test('proxies and renders without a known source: those with their copies do not count as exposed', () => {
  const { projects, at } = shown(sampleCopies(9e11));
  const madeOf = (exposedBytes: number) =>
    projects.map((project) =>
      projectSentence(
        { ...project, made: { bytes: 5e10, replaceableBytes: 2e10, unsourcedClips: 3, exposedBytes } },
        at,
      ),
    )[0];
  const of = 'Of 30.0 GB of proxies and renders it is not known what they were made from; ';
  expect(madeOf(0)).toContain(`${of}they have their verified copies.`);
  expect(madeOf(1e10)).toContain(`${of}10.0 GB without their verified copies count as exposed.`);
  expect(madeOf(3e10)).toContain(`${of}counted as exposed.`);
});
