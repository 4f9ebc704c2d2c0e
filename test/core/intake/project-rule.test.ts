import { describe, expect, test } from 'vitest';
import { guessProjectRule, type RootChild } from '../../../src/core/intake/project-rule.ts';

const folders = (...names: string[]): RootChild[] => names.map((name) => ({ name, isDir: true }));
const holding = (name: string, ...grandChildren: string[]): RootChild => ({ name, isDir: true, grandChildren });

describe('a folder that is itself one project', () => {
  test.each([
    [folders('Footage', 'Audio', 'Exports')],
    [folders('01_Footage', '02_Audio', '03 - Music', '04.Graphics')],
    [folders('RAW FOOTAGE', 'exports')],
    [folders('Camera Originals', 'Location Sound', 'Paperwork', 'Misc')],
    [[...folders('Footage', 'Audio'), { name: 'notes.txt', isDir: false }, { name: 'Audio.mov', isDir: false }]],
    [folders('Footage', 'Audio', 'lost+found', '.Trash-1000', '.Spotlight-V100', '.hidden')],
  ])('%j', (children) => {
    expect(guessProjectRule(children)).toMatchObject({ rule: '.', reason: 'looks-like-one-project', suggestion: null });
  });

  test('says what it rests on', () => {
    expect(guessProjectRule(folders('Footage', 'Exports', 'Notes')).evidence).toEqual(['Footage', 'Exports']);
  });
});

describe('a folder that holds projects', () => {
  test.each([
    ['projects', folders('Saltmarsh', 'Tidewater Sessions', 'Lock Keepers')],
    ['projects beside shared caches and renders', folders('Saltmarsh', 'Media Cache', 'Renders', 'Proxies')],
    ['one part among many', folders('Footage', 'Saltmarsh', 'Lock Keepers')],
    ['parts, but fewer than half', folders('Footage', 'Audio', 'Saltmarsh', 'Lock Keepers', 'Tidewater')],
    ['names with a part word in them', folders('Harbour Video', 'Museum Audio', 'Wedding Footage')],
    [
      'libraries beside a project that has parts of its own',
      [...folders('Music', 'Audio'), holding('Saltmarsh', 'Footage', 'Audio', 'Exports')],
    ],
    ['no recordings among the parts', folders('Renders', 'Music')],
  ])('%s', (_name, children) => {
    expect(guessProjectRule(children)).toMatchObject({ rule: '*', reason: 'holds-projects' });
  });

  test('an empty folder gives nothing to go by', () => {
    expect(guessProjectRule([])).toEqual({ rule: '*', reason: 'nothing-to-go-by', evidence: [], suggestion: null });
    expect(guessProjectRule(folders('lost+found', 'Media Cache')).reason).toBe('nothing-to-go-by');
  });
});

describe('years are told, never followed', () => {
  test('at the first level', () => {
    const guess = guessProjectRule(folders('2024', '2025', 'Saltmarsh'));
    expect(guess.rule).toBe('*');
    expect(guess.suggestion).toContain('2024, 2025');
    expect(guess.suggestion).toContain('projects = "*/*"');
  });

  test('one level down', () => {
    const guess = guessProjectRule([holding('Harbour Films', '2025', '2026'), holding('Lock Keepers', 'Footage')]);
    expect(guess.rule).toBe('*');
    expect(guess.suggestion).toContain('Harbour Films/2025');
    expect(guess.suggestion).toContain('projects = "*/*/*"');
  });

  test('numbers that are no years', () => {
    expect(guessProjectRule(folders('1080', '2160', '001')).suggestion).toBe(null);
  });
});
