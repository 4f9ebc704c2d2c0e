import { describe, expect, test } from 'vitest';
import { cardLists, listScope, parseCardList } from '../../../src/core/intake/card-list.ts';
import { playlist } from './playlist-bytes.ts';

const bytes = (text: string) => new TextEncoder().encode(text);
const relation = (inner: string) =>
  bytes(`<?xml version="1.0"?><P2Main xmlns="urn:x"><ClipContent><ClipName>0001AB</ClipName><GlobalClipID>id-1</GlobalClipID>
    <Duration>250</Duration><Relation><OffsetInShot>0</OffsetInShot><Connection>${inner}</Connection></Relation></ClipContent></P2Main>`);

describe('lists of a card', () => {
  test('are known by their places', () => {
    expect(listScope('Saltmarsh/Card 1/PRIVATE/AVCHD/BDMV/PLAYLIST/00000.MPL')).toBe(
      'Saltmarsh/Card 1/PRIVATE/AVCHD/BDMV',
    );
    expect(listScope('P/contents/clip/0001ab.xml')).toBe('P/contents');
    for (const none of ['P/PLAYLIST/00000.MPL', 'P/CONTENTS/VIDEO/0001AB.MXF', 'P/CONTENTS/CLIP/notes.xml', 'a.mpl'])
      expect(listScope(none)).toBeNull();
  });

  test('a playlist tells which stream goes on', () => {
    const path = 'P/BDMV/PLAYLIST/00000.MPL';
    const list = parseCardList(
      path,
      playlist([
        { name: '00000M2TS', item: [1] },
        { name: '00001M2TS', item: [6] },
      ]),
    );
    expect(list).toEqual({
      type: 'playlist',
      items: [
        { clip: '00000', begins: 'list' },
        { clip: '00001', begins: 'continuation' },
      ],
    });
    expect(list === null ? null : cardLists([{ path, list }])).toMatchObject({ playlists: [{ folder: 'P/BDMV' }] });
    expect(parseCardList(path, bytes('not a playlist'))).toBeNull();
  });

  test('a clip list names its neighbours; one without any says nothing', () => {
    const path = 'P/CONTENTS/CLIP/0001AB.XML';
    const list = parseCardList(
      path,
      relation('<Top><GlobalClipID>id-1</GlobalClipID></Top><Next><GlobalClipID>id-2</GlobalClipID></Next>'),
    );
    expect(list).toEqual({
      type: 'relation',
      relation: { clip: 'id-1', top: 'id-1', previous: null, next: 'id-2', offset: 0, length: 250 },
    });
    expect(list === null ? null : cardLists([{ path, list }]).relations[0]?.unit).toBe('P/CONTENTS/0001ab.*');
    expect(parseCardList(path, relation(''))).toBeNull();
    expect(parseCardList(path, bytes('<!DOCTYPE x [<!ENTITY a "b">]><P2Main>&a;</P2Main>'))).toBeNull();
    expect(parseCardList(path, new Uint8Array([0xff, 0, 0xfe]))).toBeNull();
  });
});
