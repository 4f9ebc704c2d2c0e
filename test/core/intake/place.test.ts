import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makePlacer, type PlaceOptions, place } from '../../../src/core/intake/place.ts';

const PLAIN: PlaceOptions = { shared: [], ignore: [], rootName: 'Tidewater Sessions' };
const where = (path: string, rule: string, options: Partial<PlaceOptions> = {}) => {
  const { area, project } = place(path, rule, { ...PLAIN, ...options });
  return [area, project];
};

describe('projects by rule', () => {
  test.each([
    ['*', 'Saltmarsh/Footage/A001.mov', 'project', 'Saltmarsh'],
    ['*', 'Saltmarsh/A001.mov', 'project', 'Saltmarsh'],
    ['*', 'A001.mov', 'unassigned', null],
    ['*/*', '2026/Saltmarsh/A001.mov', 'project', '2026/Saltmarsh'],
    ['*/*', '2026/A001.mov', 'unassigned', null],
    ['*/*/*', 'Harbour/2026/Saltmarsh/A/B.mov', 'project', 'Harbour/2026/Saltmarsh'],
    ['*/*/*', 'Harbour/2026/B.mov', 'unassigned', null],
    ['jobs/*', 'jobs/Saltmarsh/A001.mov', 'project', 'jobs/Saltmarsh'],
    ['jobs/*', 'other/Saltmarsh/A001.mov', 'unassigned', null],
    ['.', 'Footage/A001.mov', 'project', 'Tidewater Sessions'],
    ['.', 'A001.mov', 'project', 'Tidewater Sessions'],
  ])('%s: %s', (rule, path, area, project) => {
    expect(where(path, rule)).toEqual([area, project]);
  });

  test('a rule that is still to be guessed is refused', () => {
    expect(() => makePlacer('guess', PLAIN)).toThrow(RangeError);
    expect(() => makePlacer('', PLAIN)).toThrow(RangeError);
  });
});

describe('system and trash, under every rule', () => {
  test.each(['*', '*/*', '.'])('rule %s', (rule) => {
    expect(where('lost+found/#123', rule)).toEqual(['system', null]);
    expect(where('Saltmarsh/Footage/._A001.mov', rule)).toEqual(['system', null]);
    expect(where('Saltmarsh/.snapshots/1/A001.mov', rule)).toEqual(['system', null]);
    expect(where('.Trash-1000/files/Saltmarsh/A001.mov', rule)).toEqual(['trash', null]);
    expect(where('$RECYCLE.BIN/S-1-5-21/$R1.mov', rule)).toEqual(['trash', null]);
  });

  test('a folder itself is told as well, so that it need not be read', () => {
    expect(where('.Spotlight-V100', '*')).toEqual(['system', null]);
    expect(where('Saltmarsh/@eaDir', '*')).toEqual(['system', null]);
  });

  test('nothing in there is taken for media', () => {
    const { kind, reason } = place('.Trashes/501/A001.mov', '*', PLAIN);
    expect([kind, reason]).toEqual(['other', 'trash folder .Trashes']);
  });
});

describe('shared', () => {
  test.each([
    'Media Cache/x',
    'cache/x',
    'RENDERS/a.mov',
    'Proxies/a.mov',
    'Auto-Save/a.prproj',
    'scratch/a.mov',
    '.config/x',
  ])('first level: %s', (path) => {
    expect(where(path, '*')).toEqual(['shared', null]);
    expect(where(path, '*/*/*')).toEqual(['shared', null]);
  });

  test('only at the first level', () => {
    expect(where('Saltmarsh/Renders/a.mov', '*')).toEqual(['project', 'Saltmarsh']);
  });

  test('a file of that name is only a loose file', () => {
    expect(where('Renders', '*')).toEqual(['unassigned', null]);
  });

  test('a project that is the root keeps its own renders', () => {
    expect(where('Renders/a.mov', '.')).toEqual(['project', 'Tidewater Sessions']);
  });

  test('what the configuration names is shared, without case and however accents are stored', () => {
    const options = { shared: ['Caf\u00e9'] };
    expect(where('cafe\u0301/a.mov', '*', options)).toEqual(['shared', null]);
    expect(where('CAF\u00c9/a.mov', '.', options)).toEqual(['shared', null]);
    expect(where('Saltmarsh/Caf\u00e9/a.mov', '*', options)).toEqual(['project', 'Saltmarsh']);
  });
});

describe('ignore', () => {
  test('is neither counted nor watched, and says which pattern', () => {
    const placement = place('Saltmarsh/Old/A001.mov', '*', { ...PLAIN, ignore: ['*.bak', 'Saltmarsh/Old'] });
    expect(placement).toEqual({ area: 'system', project: null, kind: 'other', reason: 'ignore pattern Saltmarsh/Old' });
  });
});

describe('kind', () => {
  test("a project's name is no evidence of what is in it", () => {
    expect(place('Exports/A001.mov', '*', PLAIN)).toMatchObject({ project: 'Exports', kind: 'original' });
    expect(place('2026/Cache/A001.mov', '*/*', PLAIN)).toMatchObject({ project: '2026/Cache', kind: 'original' });
    expect(place('Saltmarsh/Exports/A001.mov', '*', PLAIN)).toMatchObject({ kind: 'render', reason: 'folder Exports' });
    expect(place('Renders/A001.mov', '*', PLAIN)).toMatchObject({ area: 'shared', kind: 'render' });
  });
});

test('every path has exactly one place, and a project only in its area', () => {
  const name = fc
    .oneof(fc.string({ minLength: 1, maxLength: 8 }), fc.constantFrom('Renders', '.Trash', 'Saltmarsh', 'a.mov'))
    .map((text) => text.replaceAll('/', '_'));
  fc.assert(
    fc.property(fc.array(name, { minLength: 1, maxLength: 5 }), fc.constantFrom('*', '*/*', '.'), (names, rule) => {
      const placement = place(names.join('/'), rule, PLAIN);
      expect(placement.project !== null).toBe(placement.area === 'project');
      expect(placement.reason).not.toBe('');
      if (rule !== '.' && placement.project !== null)
        expect(names.join('/').startsWith(`${placement.project}/`)).toBe(true);
    }),
  );
});

describe('folders that the configuration gives a kind', () => {
  const options: PlaceOptions = { ...PLAIN, kinds: { proxy: ['Small Pictures'], original: ['Exports'] } };
  const kindIn = (path: string) => {
    const { kind, reason } = place(path, '*', options);
    return [kind, reason];
  };

  test('decide before any other sign, case aside, below a project and outside of all', () => {
    expect(kindIn('Saltmarsh/small pictures/A001.mov')).toEqual(['proxy', 'configured folder small pictures']);
    expect(kindIn('Saltmarsh/Exports/A001.mov')).toEqual(['original', 'configured folder Exports']);
    expect(kindIn('Renders/Exports/A001.mov')).toEqual(['original', 'configured folder Exports']);
    expect(kindIn('Saltmarsh/Renders/A001.mov')).toEqual(['render', 'folder Renders']);
  });

  test("a project's own name decides nothing", () => {
    expect(kindIn('Small Pictures/A001.mov')).toEqual(['original', 'extension .mov']);
  });
});
