import { describe, expect, test } from 'vitest';
import { ascii, join } from './media.ts';
import { chunk, structureOf } from './riff-files.ts';
import { bext, ixml, wave } from './wave-files.ts';

describe("a recorder's notes (iXML)", () => {
  const noted = (inside: string, told: Parameters<typeof bext>[0] = {}) =>
    structureOf(wave([bext(told)], [ixml(inside)]));

  test('scene, take, tape, family; before the lines of the description', () => {
    const inside =
      '<PROJECT>Lock Keepers</PROJECT><SCENE>7B</SCENE><TAKE>2</TAKE><TAPE>FEN&amp;07</TAPE>' +
      '<FILE_SET><TOTAL_FILES>2</TOTAL_FILES><FAMILY_UID>FS8-20270211-0007</FAMILY_UID><FAMILY_NAME>7B-2</FAMILY_NAME></FILE_SET>' +
      '<TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT><TRACK><NAME>Boom</NAME></TRACK><TRACK><NAME>Lav</NAME></TRACK></TRACK_LIST>';
    expect(noted(inside, { description: 'sSCENE=12\r\nsTAKE=3\r\nsTAPE=X' })).toMatchObject({
      reel: 'FEN&07',
      ties: { scene: '7B', take: '2', family: 'FS8-20270211-0007' },
      troubles: [],
    });
    expect(noted('<SCENE></SCENE><TAKE/>', { description: 'sSCENE=12\r\nsTAKE=3' })).toMatchObject({
      ties: { scene: '12', take: '3' },
    });
  });

  test('tracks that the sound does not have', () => {
    expect(noted('<TRACK_LIST><TRACK_COUNT>8</TRACK_COUNT></TRACK_LIST>').troubles).toEqual([
      'the notes (iXML) list 8 tracks, the sound has 2',
    ]);
  });

  test('zeros behind the text, notes of nothing, and notes that are too long', () => {
    const text = ascii('<BWFXML><SCENE>4</SCENE></BWFXML>');
    const padded = chunk('iXML', join(text, new Uint8Array(4000)));
    expect(structureOf(wave([padded]))).toMatchObject({ ties: { scene: '4' }, troubles: [] });
    for (const empty of [chunk('iXML', []), chunk('iXML', new Uint8Array(500))])
      expect(structureOf(wave([empty]))).toMatchObject({ ties: { scene: null }, troubles: [] });
    const endless = chunk('iXML', new Uint8Array(1_048_610).fill(0x20));
    expect(structureOf(wave([], [endless]))).toMatchObject({
      ties: { scene: null },
      troubles: ['the notes (iXML) have 1,048,610 bytes and are not read'],
    });
  });

  test.each([
    ['it ends in mid-element', '<BWFXML><SCENE>4</SCENE><TAKE>'],
    ['a tag is damaged or cut off', '<BWFXML><SCENE>4</SCENE><TA'],
    ['its elements are not nested', '<BWFXML><SCENE>4</SCENE></TAKE></BWFXML>'],
    ['a tag is damaged or cut off', '<BWFXML><SCENE>4</SCENE><!ENTITY x "y"></BWFXML>'],
    ['a tag is damaged or cut off', '<BWFXML><SCENE>4</SCENE><!-- <TAKE>9</TAKE>'],
    ['its elements are nested too deep', `<BWFXML><SCENE>4</SCENE>${'<a>'.repeat(17)}`],
    ['it has more elements than are looked at', `<BWFXML><SCENE>4</SCENE>${'<a/>'.repeat(20_000)}</BWFXML>`],
    ['a tag is damaged or cut off', '<BWFXML><SCENE>4</SCENE>< >'],
  ])('damaged: %s', (words, text) => {
    expect(structureOf(wave([], [chunk('iXML', ascii(text))]))).toMatchObject({
      ties: { scene: '4', take: null },
      troubles: [`the notes (iXML) are damaged: ${words}`],
    });
  });

  test('no elements at all', () => {
    expect(structureOf(wave([], [chunk('iXML', ascii('SCENE=4'))])).troubles).toEqual([
      'the notes (iXML) are damaged: it has no elements',
    ]);
  });

  test.each([
    ['4', '<SCENE>4</SCENE><SCENE>5</SCENE>'],
    ['4', '<SCENE kind="interior">4</SCENE>'],
    ['4 <b>', '<SCENE><![CDATA[4 <b>]]></SCENE>'],
    ['4', '<!-- <SCENE>3</SCENE> --><SCENE>4</SCENE>'],
    ['<4>"\'&lt;', '<SCENE>&lt;4&gt;&quot;&apos;&amp;lt;</SCENE>'],
    ['&file;&#52;', '<SCENE>&file;&#52;</SCENE>'],
    ['4B', '<SCENE>4<X>9</X>B</SCENE>'],
    ['Schleuse ä', '<SCENE>\n  Schleuse ä\n</SCENE>'],
    [null, '<USER><SCENE>4</SCENE></USER>'],
    ['4'.repeat(256), `<SCENE>${'4'.repeat(5000)}</SCENE>`],
  ])('scene %s', (scene, inside) => {
    expect(noted(inside)).toMatchObject({ ties: { scene }, troubles: [] });
  });
});
