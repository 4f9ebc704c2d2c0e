import { expect, test } from 'vitest';
import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { NO_TIES } from '../../../src/core/intake/container/structure.ts';
import type { FactName, FactSource } from '../../../src/core/intake/fact-sources.ts';
import { clipFromJson, clipToJson } from '../../../src/rim/store/clip-json.ts';
import { sampleClip } from '../../core/samples.ts';

const everyFact = Object.keys(NO_FACTS) as FactName[];

test.each<[string, Parameters<typeof sampleClip>[0]]>([
  ['a plain clip', {}],
  [
    'each source in turn',
    {
      sources: Object.fromEntries(
        everyFact.map((fact, at) => [fact, (['structure', 'reader', 'both', 'derived'] as FactSource[])[at % 4]]),
      ),
    },
  ],
  ['one source, of the last fact', { sources: { [everyFact.at(-1) ?? '']: 'both' } }],
  [
    'all that is mostly not there',
    {
      disagreements: [{ fact: 'frames', structure: '1', reader: '2' }],
      troubles: ['odd'],
      ...{ essenceCount: 3, parts: 'spans', groupedBy: 'chapter-number', missingNames: ['x'], sampleRate: 48_000 },
      missingFrames: [{ first: 1, last: 2 }],
      missingParts: [{ first: 2, last: 2 }],
      ties: { ...NO_TIES, family: 'f' },
    },
  ],
])('%s comes back as it was', (_name, more) => {
  const clip = sampleClip(more);
  expect(clipFromJson(clipToJson(clip))).toEqual(clip);
});

test('what is as it mostly is takes no room, and is there again, also in what was kept before', () => {
  const kept = JSON.parse(clipToJson(sampleClip()));
  for (const key of ['disagreements', 'troubles', 'ties', 'groupedBy', 'missingNames'])
    expect(kept).not.toHaveProperty(key);
  delete kept.sources;
  expect(clipFromJson(JSON.stringify(kept))).toEqual(sampleClip());
});
