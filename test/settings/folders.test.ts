import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { settingsForFolders, withFolders } from '../../src/settings/folders.ts';
import { parseSettings } from '../../src/settings/parse.ts';
import { holds, parseName } from '../../src/settings/places.ts';

const named = (folders: string[]) => settingsForFolders(folders).volumes.map(({ name, path }) => [name, path]);

describe('folders without a file', () => {
  test('mean what a file with that volume and nothing else means', () => {
    const file = parseSettings('[[volume]]\nname = "stripe"\npath = "/media/stripe"', { homeDir: '/' });
    expect(file).toEqual({ ok: true, settings: settingsForFolders(['/media/stripe']) });
  });

  test.each([
    [['/media/stripe/'], [['stripe', '/media/stripe']]],
    [
      ['/a/footage', '/b/footage', '/c/footage-2', '/d/footage'],
      [
        ['footage', '/a/footage'],
        ['footage-2', '/b/footage'],
        ['footage-2-2', '/c/footage-2'],
        ['footage-3', '/d/footage'],
      ],
    ],
    [['/'], [['volume', '/']]],
    [['/a', '/a/', '/a/.'], [['a', '/a']]],
    [['/a/inner', '/a'], [['a', '/a']]],
    [['/media/two\nlines\u001b[2J '], [['two_lines_[2J', '/media/two\nlines\u001b[2J ']]],
    [[], []],
  ])('%j', (folders, volumes) => {
    expect(named(folders)).toEqual(volumes);
  });

  test('names are usable and unique, no volume lies in another, and every folder is watched', () => {
    const part = fc.oneof(fc.constantFrom('a', 'b', 'a-2'), fc.string({ unit: 'binary', minLength: 1, maxLength: 70 }));
    const folder = fc.array(
      part.map((text) => text.replaceAll('/', '').replaceAll('\0', '')),
      { minLength: 1, maxLength: 3 },
    );
    fc.assert(
      fc.property(
        fc.array(
          folder.map((parts) => `/${parts.join('/')}`),
          { maxLength: 6 },
        ),
        (folders) => {
          const { volumes } = settingsForFolders(folders);
          expect(new Set(volumes.map(({ name }) => name)).size).toBe(volumes.length);
          for (const { name, path } of volumes) {
            expect(parseName(name).ok).toBe(true);
            expect(volumes.filter((other) => holds(other.path, path))).toHaveLength(1);
          }
          expect(volumes.length > 0).toBe(folders.length > 0);
        },
      ),
    );
  });
});

describe('folders on top of a file', () => {
  const file = parseSettings('[[volume]]\nname = "stripe"\npath = "/media/stripe"\n[page]\nport = 0', { homeDir: '/' });
  if (!file.ok) throw new Error('the file of this test is wrong');

  test('add volumes and keep the rest', () => {
    const settings = withFolders(file.settings, ['/other/stripe', '/media/stripe/Saltmarsh']);
    expect(settings.volumes.map(({ name }) => name)).toEqual(['stripe', 'stripe-2']);
    expect(settings.page.port).toBe(0);
    expect(file.settings.volumes).toHaveLength(1);
  });

  test('one that would hold a volume of the file is refused, with what to do', () => {
    expect(() => withFolders(file.settings, ['/media'])).toThrow(Fault);
    expect(() => withFolders(file.settings, ['/media'])).toThrow(
      'The folder "/media" holds the volume "stripe" ("/media/stripe") of the configuration. Leave the folder away, or take the volume out of the file.',
    );
  });
});
