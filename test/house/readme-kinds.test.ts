import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { RULES } from '../../src/core/advise/rules/rules.ts';

test('README tells of every kind of advisory, each once, and of no other', () => {
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
  const [section = ''] = (readme.split('\n## What it speaks up about\n')[1] ?? '').split('\n## ');
  const first = [...section.matchAll(/^\| (`[^|]*) \|/gm)].flatMap(([, cell = '']) => cell.split(', '));
  const kinds = first.map((kind) => kind.replaceAll('`', ''));
  expect(kinds.toSorted()).toEqual(RULES.map(({ kind }) => kind).sort());
});
