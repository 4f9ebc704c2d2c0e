import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { filledIn, pathBelow, readReport } from '../../../src/core/backup/command-report.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';

const line = (value: unknown) => new TextEncoder().encode(typeof value === 'string' ? value : JSON.stringify(value));

describe('what a program says in a line', () => {
  test('a copy, a failure, and how far it is', () => {
    expect(
      readReport(line({ file: 'Saltmarsh/A001.mov', state: 'copied', place: 'tape 4, file 12', readAt: '/mnt/t/A' })),
    ).toEqual({ is: 'copied', file: 'Saltmarsh/A001.mov', place: 'tape 4, file 12', readAt: '/mnt/t/A' });
    expect(readReport(line({ file: 'A', state: 'copied' }))).toMatchObject({ place: null, readAt: null });
    expect(readReport(line({ file: 'A', state: 'failed', message: 'bad spot' }))).toEqual({
      ...{ is: 'failed', file: 'A', message: 'bad spot' },
    });
    expect(readReport(line({ progress: 0.25, message: 'tape 4' }))).toEqual({
      ...{ is: 'progress', share: 0.25, message: 'tape 4' },
    });
    expect(readReport(line({ progress: 'much' }))).toMatchObject({ share: null });
  });

  test.each([
    ['to tape 4 ...', 'no-json'],
    ['{"file": "A", "state": "cop', 'no-json'],
    ['[{"file": "A", "state": "copied"}]', 'no-json'],
    ['null', 'no-json'],
    ['{}', 'no-report'],
    ['{"file": "A"}', 'no-report'],
    ['{"file": "A", "state": "verified"}', 'no-report'],
    ['{"file": ["A"], "state": "copied"}', 'no-report'],
    ['{"file": "", "state": "copied"}', 'no-report'],
    ['{"file": "A\\u0000B", "state": "copied"}', 'no-report'],
    ['{"fileBase64": "not base64!", "state": "copied"}', 'no-report'],
  ])('%s says nothing', (text, expected) => {
    expect(readReport(line(text))).toBe(expected);
  });

  test('a line that is no UTF-8 is no JSON (RFC 8259, section 8.1)', () => {
    expect(readReport(Uint8Array.of(...line('{"file": "A'), 0xff, ...line('", "state": "copied"}')))).toBe('no-json');
  });

  test('any name comes through, as text where it is text, else as base64', () => {
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 1, maxLength: 40 }), (bytes) => {
        const name = bytes.map((byte) => (byte === 0 ? 1 : byte));
        const coded = readReport(line({ fileBase64: Buffer.from(name).toString('base64'), state: 'copied' }));
        expect(coded).toMatchObject({ file: fromBytes(name) });
        const text = Buffer.from(name).toString('utf8');
        if (Buffer.from(text).equals(Buffer.from(name)))
          expect(readReport(line({ file: text, state: 'copied' }))).toEqual(coded);
      }),
    );
  });

  test('a character that stands for a byte in our texts is not taken for that byte', () => {
    expect(readReport(line({ file: '\uf7ff', state: 'copied' }))).toMatchObject({
      file: fromBytes(new TextEncoder().encode('\uf7ff')),
    });
  });

  test('words are kept short, and nothing at all makes it throw', () => {
    expect(readReport(line({ file: 'A', state: 'failed', message: 'x'.repeat(5_000) }))).toMatchObject({
      message: 'x'.repeat(300),
    });
    fc.assert(fc.property(fc.jsonValue(), (value) => void readReport(line(value))));
    fc.assert(fc.property(fc.uint8Array(), (bytes) => void readReport(bytes)));
  });
});

test('arguments are filled in once, and what is filled in is not looked at again', () => {
  const places = { list: '/state/{root}.list', root: '/media/stripe' };
  expect(filledIn(['/bin/x', '--from={root}', '{list}', '{other} $HOME'], places)).toEqual([
    ...['/bin/x', '--from=/media/stripe', '/state/{root}.list', '{other} $HOME'],
  ]);
});

test.each([
  ['/mnt/tape', '/mnt/tape/a/b.mov', 'a/b.mov'],
  ['/', '/a', 'a'],
  ['/mnt/tape', '/mnt/tape', null],
  ['/mnt/tape', '/mnt/tape/', null],
  ['/mnt/tape', '/mnt/tapes/a', null],
  ['/mnt/tape', '/mnt/tape/../stripe/a', null],
  ['/mnt/tape', '/mnt/tape/./a', null],
  ['/mnt/tape', '/mnt/tape//a', null],
  ['/mnt/tape', 'a', null],
])('below %s, %s is %s', (root, path, expected) => {
  expect(pathBelow(root, path)).toBe(expected);
});
