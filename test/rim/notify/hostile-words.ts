import fc from 'fast-check';

/** What a name, or an error of some system, may hold: controls, markup, ends of lines that would begin a header, halves of characters. */
const PIECES = [
  ...[
    '\r\n',
    '\n',
    '\r',
    '\0',
    '\t',
    '\u0007',
    '\u001b[31m',
    '\u009b31m',
    '\u202e',
    '\u2028',
    '\u2029',
    '\ufeff',
    '\u0085',
  ],
  ...[
    '\r\nBcc: all@example.org\r\n',
    '\r\n\r\nDear all,',
    '\r\n.\r\n',
    '\nMAIL FROM:<a@example.org>\r\n',
    'Subject: other',
  ],
  ...[
    '<b onclick="x()">',
    '</b>',
    '&amp;',
    '&#0;',
    '<!--',
    ']]>',
    '<img src=x>',
    '"',
    "'",
    '\\',
    '\\u0000',
    '"}',
    '{"id":"1"}',
  ],
  ...['\ud800', '\udfff', '\udc00\ud800', '\uffff', '\u{1f3ac}', '\u6620\u753b', 'a\u0301', '\u0627'],
  ...['=?utf-8?q?Bcc=3A?=', '=?', '?=', '%s', '$(touch /tmp/x)', '`id`', '--help', '-v', '=0D=0A', '. ', 'clip '],
];

/** Up to some hundred characters, and now and then ten thousand bytes and more. */
export const hostileWords = fc
  .oneof(
    {
      weight: 5,
      arbitrary: fc.array(fc.oneof(fc.constantFrom(...PIECES), fc.string({ unit: 'binary' })), { maxLength: 24 }),
    },
    { weight: 1, arbitrary: fc.array(fc.constantFrom(...PIECES), { minLength: 1_200, maxLength: 1_400 }) },
  )
  .map((pieces) => pieces.join(''));
