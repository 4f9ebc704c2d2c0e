import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type Block,
  markOf,
  type PageChange,
  type PageState,
  pageChange,
} from '../../../../src/core/present/html/block.ts';
import { runs } from '../../../effort.ts';

function state(blocks: readonly Block[], over: Partial<PageState> = {}): PageState {
  return {
    version: '1',
    title: 'stripe - headroomd',
    when: 'as of now',
    sections: [{ id: 'speed', title: 'Speed', blocks: [...blocks] }],
    ...over,
  };
}

/** What a browser makes of it. */
function applied(shown: Map<string, string>, keys: string[], { blocks, orders }: PageChange): string[] {
  for (const [key, { html }] of Object.entries(blocks)) shown.set(key, html);
  return orders['speed'] ?? keys;
}

describe('from one state of the page to another', () => {
  test('only what is other is told', () => {
    const before = state([
      { key: 'a', html: '1' },
      { key: 'b', html: '2' },
    ]);
    const now = state(
      [
        { key: 'a', html: '1' },
        { key: 'b', html: '3' },
      ],
      { when: 'as of later' },
    );
    expect(pageChange(before, now)).toEqual({
      ...{ version: '1', title: 'stripe - headroomd', when: 'as of later', orders: {} },
      blocks: { b: { html: '3', mark: markOf('3') } },
    });
    expect(pageChange(now, now).blocks).toEqual({});
  });

  test('from nothing known everything is told', () => {
    const { blocks, orders } = pageChange(null, state([{ key: 'a', html: '1' }]));
    expect([Object.keys(blocks), orders]).toEqual([['a'], { speed: ['a'] }]);
  });

  test('a browser that takes every change shows what it would show had it just come', () => {
    const some = fc.uniqueArray(fc.record({ key: fc.constantFrom(...'abcdefg'), html: fc.constantFrom('1', '2') }), {
      selector: ({ key }) => key,
    });
    fc.assert(
      fc.property(fc.array(some, { minLength: 1, maxLength: 8 }), (course) => {
        const shown = new Map<string, string>();
        let keys: string[] = [];
        let before: PageState | null = null;
        for (const blocks of course) {
          const now = state(blocks);
          keys = applied(shown, keys, pageChange(before, now));
          before = now;
          expect(keys.map((key) => ({ key, html: shown.get(key) }))).toEqual(blocks);
        }
      }),
      { numRuns: runs(200) },
    );
  });
});

test('the mark is FNV-1a over both bytes of each unit, with the length', () => {
  // FNV-1a 32 of "a\0" (IETF draft-eastlake-fnv, reference vectors: "a" with its NUL is 2b24d044), from memory.
  expect(markOf('a')).toBe('1.2b24d044');
  expect(markOf('')).toBe('0.811c9dc5');
  expect(markOf('潮')).not.toBe(markOf('한'));
});
