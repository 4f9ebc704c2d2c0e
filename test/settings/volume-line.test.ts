import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseSettings } from '../../src/settings/parse.ts';
import { quoted } from '../../src/settings/show.ts';
import { renderVolumeLine } from '../../src/settings/volume-line.ts';

describe('the line that would change a guess', () => {
  test('reads as the manual shows it', () => {
    expect(renderVolumeLine({ volume: 'stripe', projects: '*/*' })).toBe(
      'projects = "*/*"   # in [[volume]] name = "stripe"',
    );
  });

  test('put into a file it is taken, whatever the volume is called', () => {
    const rule = fc.constantFrom('*', '*/*', '*/*/*', '.', 'guess');
    fc.assert(
      fc.property(rule, fc.string({ unit: 'binary' }), (projects, folder) => {
        const line = renderVolumeLine({ volume: folder, projects });
        const text = `[[volume]]\nname = "stripe"\npath = ${quoted('/media/stripe')}\n${line}\n`;
        expect(parseSettings(text, { homeDir: '/' })).toMatchObject({
          ok: true,
          settings: { volumes: [{ projects }] },
        });
      }),
    );
  });
});
