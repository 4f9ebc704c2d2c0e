import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { AdvisoryKind, Finding } from '../../../src/core/advise/advisory.ts';
import { RULES } from '../../../src/core/advise/rules/rules.ts';
import { display } from '../../../src/core/present/escape.ts';
import { CLEARED_WORDS } from '../../../src/core/present/wording.ts';
import { KIND_CASES, type Names, USUAL } from './kind-cases.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const KINDS = Object.keys(KIND_CASES) as AdvisoryKind[];

/** What the real rule of a kind says first, where its condition holds. */
function told(kind: AdvisoryKind, names: Names): Finding | undefined {
  const rule = RULES.find((one) => one.kind === kind);
  return rule?.evaluate(KIND_CASES[kind].assessment(names), THRESHOLDS).findings[0];
}

function textsOf({ message, remedies }: Finding): string[] {
  return [message, ...remedies.flatMap(({ action, effect }) => [action, effect])];
}

test('every kind has a rule, and every rule a kind of its own', () => {
  expect(RULES.map(({ kind }) => kind).sort()).toEqual(KINDS.toSorted());
});

describe.each(KINDS)('%s', (kind) => {
  const finding = told(kind, USUAL);
  const { about } = KIND_CASES[kind];

  test('says what and where, how much or when, and what to do', () => {
    expect(finding).toMatchObject({ kind, severity: expect.stringMatching(/^(notice|warning|critical)$/) });
    expect(finding?.message).toContain(about(USUAL));
    expect(textsOf(finding as Finding).join(' ')).toMatch(/\d/);
    expect(finding?.remedies.length).toBeGreaterThan(0);
    for (const { action, effect } of finding?.remedies ?? []) {
      expect(action).toMatch(/^[A-Z]/);
      expect(action).not.toMatch(/\.$/);
      expect(effect).toMatch(/[^.]$/);
    }
  });

  test('is short, in whole sentences, and leads nobody to take footage away', () => {
    expect(finding?.message.length).toBeLessThanOrEqual(500);
    expect(finding?.message).toMatch(/[^.][.?]$/);
    for (const text of textsOf(finding as Finding)) expect(text).not.toMatch(/\b(erase|wipe|safe to|rm |mkfs|fsck)\b/i);
  });

  test('is over in words that name it', () => {
    expect(CLEARED_WORDS[kind](finding?.subject ?? '')).toMatch(/\.$/);
  });
});

/** Names of any length and script, with what terminals obey, markup, and what turns the direction of writing. */
const HOSTILE = fc.oneof(
  fc.string({ unit: 'binary', minLength: 1, maxLength: 60 }),
  fc
    .array(
      fc.constantFrom(
        ...['\u001b[2J', '\u001b]0;x\u0007', '\u009b31m', '\r\n', '\n', '\u2028', '\u2029', '\u0000', '\u007f', '\t'],
        ...[
          '\u202e',
          '\u2066',
          '\u200b',
          '\ufeff',
          '\udcff',
          '\uf7ff',
          '<script>',
          '</p>',
          '&#60;',
          '"',
          "'",
          'A001',
          ' ',
        ],
      ),
      { minLength: 1, maxLength: 12 },
    )
    .map((parts) => parts.join('')),
);

test('whatever is in a name: every text stays one line, in which nothing is left that a terminal obeys', () => {
  const names = fc.record({ volume: HOSTILE, project: HOSTILE, path: HOSTILE, shelf: HOSTILE, detail: HOSTILE });
  fc.assert(
    fc.property(fc.constantFrom(...KINDS), names, (kind, hostile) => {
      const finding = told(kind, hostile);
      expect(finding?.kind).toBe(kind);
      // `display` changes whatever is unsafe, and nothing else: its own tests say which characters these are.
      for (const text of textsOf(finding as Finding)) expect(text).toBe(display(text));
    }),
    { numRuns: 1_500 },
  );
});
