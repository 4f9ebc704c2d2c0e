import { describe, expect, test } from 'vitest';
import * as defaults from '../../src/settings/defaults.ts';
import { parseSettings } from '../../src/settings/parse.ts';
import { parseTree, type Tree } from '../../src/settings/position.ts';
import { KNOWN_KEYS } from '../../src/settings/schema.ts';
import { annotated, HOME, withDefaults } from './configuration-file.ts';

const everyDefault = [
  defaults.VOLUME_DEFAULTS,
  defaults.ARRIVAL_DEFAULTS,
  defaults.CARD_DEFAULTS,
  defaults.THRESHOLD_DEFAULTS,
  defaults.PAGE_DEFAULTS,
  defaults.LOG_DEFAULTS,
  defaults.SHELF_DEFAULTS,
  defaults.BACKUP_DEFAULTS,
  defaults.NOTIFY_DEFAULTS,
].flatMap((group) => Object.values(group) as { value: unknown; why: string }[]);
const commented = [...annotated.matchAll(/^#([a-z_]+) = (.*)$/gm)];

/** Settings of a text that must be fine. */
function settingsOf(text: string) {
  const result = parseSettings(text, { homeDir: HOME });
  expect(result).toMatchObject({ ok: true });
  return result.ok ? result.settings : null;
}

/** `volume.layout.level`, once for each key that is written. */
function writtenKeys(tree: Tree, place = ''): string[] {
  if (tree.kind === 'leaf') return [];
  if (tree.kind === 'list') return tree.items.flatMap((item) => writtenKeys(item, place));
  return [...tree.entries].flatMap(([key, entry]) => {
    const name = place === '' ? key : `${place}.${key}`;
    return [name, ...writtenKeys(entry, name)];
  });
}

/** Two copies are what is wanted where nothing is said, but of a volume whose shelves lie on one drive: the file says so beside it. */
function usual(settings: ReturnType<typeof settingsOf>) {
  if (settings === null) return null;
  return { ...settings, thresholds: { ...settings.thresholds, wantedCopies: settings.thresholds.wantedCopies ?? 2 } };
}

describe('config/headroomd.toml', () => {
  test('is a configuration without problems', () => {
    expect(settingsOf(annotated)?.volumes).toMatchObject([{ name: 'stripe', path: '/media/stripe' }]);
  });

  test('every default written out means the same as leaving it away', () => {
    expect(withDefaults).not.toBe(annotated);
    expect(settingsOf(withDefaults)).toEqual(usual(settingsOf(annotated)));
  });

  test.each(commented.map(([line, key]) => [key, line]))('%s alone, written out, changes nothing', (_key, line) => {
    const text = annotated.replace(`\n${line}\n`, `\n${line?.slice(1)}\n`);
    expect(text).not.toBe(annotated);
    expect(usual(settingsOf(text))).toEqual(usual(settingsOf(annotated)));
  });

  test('shows each default of the code, once, with its reason', () => {
    const shown = commented.map(([, , value]) => JSON.stringify(JSON.parse(value ?? ''))).sort();
    expect(shown).toEqual(everyDefault.map(({ value }) => JSON.stringify(value)).sort());
    const prose = annotated.replace(/^# ?/gm, '').replace(/\s+/g, ' ');
    for (const { why } of everyDefault) expect(prose).toContain(why);
  });

  test('names every key there is, and its examples are right', () => {
    // An example stands for the default above it, so that one is taken away with it.
    const withExamples = withDefaults.replace(/^([a-z_]+) = .*\n#~ (\1 = .*)$/gm, '$2').replace(/^#~ /gm, '');
    expect(withExamples).not.toMatch(/^#~/m);
    const settings = settingsOf(withExamples.replace(/^# .*$/gm, ''));
    expect(settings?.volumes[0]).toMatchObject({
      layout: { level: '0', members: 4, drive: 'nvme', link: 'usb4' },
      speed: { readBps: 1_700_000_000, writeBps: 1_500_000_000 },
      shared: ['For The Mix'],
    });
    const known = [...KNOWN_KEYS].flatMap(([place, keys]) =>
      keys.map((key) => (place === '' ? key : `${place}.${key}`)),
    );
    expect([...new Set(writtenKeys(parseTree(withExamples)))].sort()).toEqual(known.sort());
  });

  test('fits in 120 columns', () => {
    expect(annotated.split('\n').filter((line) => line.length > 120)).toEqual([]);
  });
});
