import { describe, expect, test } from 'vitest';
import { type CardEntry, cardLayoutOf, cardRootOn, copiedCardOf } from '../../../src/core/cards/card-signs.ts';

/** Entries of a tree given by its files (and empty folders, with a slash at the end), with all folders above them. */
function tree(...paths: string[]): CardEntry[] {
  const entries = new Map<string, CardEntry>();
  for (const path of paths) {
    const names = path.split('/').filter((name) => name !== '');
    for (let depth = 1; depth <= names.length; depth++) {
      const at = names.slice(0, depth).join('/');
      const dir = depth < names.length || path.endsWith('/');
      if (!entries.has(at)) entries.set(at, { path: at, dir });
    }
  }
  return [...entries.values()];
}

/** Layouts as the card handlers of the XMP Toolkit SDK, the DCF standard and the makers' manuals describe them. */
const CARDS: readonly [layout: string, source: string, paths: string[]][] = [
  [
    'P2',
    'XMP Toolkit SDK, P2',
    ['LASTCLIP.TXT', 'CONTENTS/CLIP/0001AB.XML', 'CONTENTS/VIDEO/0001AB.MXF', 'CONTENTS/AUDIO/0001AB00.MXF'],
  ],
  ['P2', 'maker: small cards', ['CONTENTS/CLIP/', 'CONTENTS/AVCLIP/']],
  ['XF (CONTENTS/CLIPS)', 'from memory', ['CONTENTS/CLIPS001/AA0001/AA000101.MXF']],
  ['XDCAM EX', 'XMP Toolkit SDK, XDCAM EX', ['BPAV/MEDIAPRO.XML', 'BPAV/CLPR/709_001_01/709_001_01.MP4', 'BPAV/TAKR/']],
  ['XDCAM (PROAV)', 'XMP Toolkit SDK, XDCAM SAM', ['PROAV/CLPR/C0001/C0001V01.MXF']],
  ['XDCAM (XDROOT)', 'from memory', ['XDROOT/Clip/C0001.MXF', 'XDROOT/MEDIAPRO.XML']],
  [
    'XDCAM',
    'XMP Toolkit SDK, XDCAM FAM',
    ['INDEX.XML', 'DISCMETA.XML', 'Clip/C0001.MXF', 'Sub/C0001S01.MXF', 'Edit/', 'General/', 'UserData/'],
  ],
  ['XAVC (M4ROOT)', 'from memory', ['M4ROOT/CLIP/C0001.MP4', 'M4ROOT/MEDIAPRO.XML', 'DCIM/100AAAAA/']],
  [
    'XAVC (M4ROOT)',
    'from memory',
    ['PRIVATE/M4ROOT/CLIP/C0001.MP4', 'AVF_INFO/AVIN0001.INP', 'DCIM/100AAAAA/A0000001.JPG'],
  ],
  ['AVCHD', 'XMP Toolkit SDK, AVCHD', ['PRIVATE/AVCHD/BDMV/STREAM/00000.MTS', 'AVCHDTN/']],
  ['AVCHD', 'XMP Toolkit SDK, AVCHD', ['BDMV/INDEX.BDM', 'BDMV/STREAM/00000.MTS']],
  ['HDV', 'XMP Toolkit SDK, HDV', ['VIDEO/HVR/00_0001_2007-08-06_165555.M2T', 'VIDEO/HVR/tracks.dat']],
  ['R3D', "maker's guides", ['A004.RDM/A004_C001_1223XX.RDC/A004_C001_1223XX_001.R3D']],
  ['DCIM', 'JEITA CP-3461', ['DCIM/100ABCDE/ABCD0001.JPG', 'MISC/']],
  ['DCIM', 'JEITA CP-3461: lower-case as a mount may show it', ['dcim/999_____/abcd9999.mov']],
  ['reel folder', 'camera manuals', ['A002R2EC/A002C006_141024_R2EC.mov', 'A002R2EC/A002C007_141024_R2EC.mov']],
  ['reel folder', 'camera manuals', ['A002R2EC/Clips/A002C006_141024_R2EC.mov', 'A002R2EC/A002R2EC.ale']],
  ['reel folder', 'common practice', ['A001_08151234_C001.braw', 'A001_08151250_C002.braw']],
  [
    'sound recorder',
    "recorders' manuals",
    [
      'Scene001-T001.wav',
      'Scene001-T002/Scene001-T002_Tr1.wav',
      'Scene001-T002/Scene001-T002_Tr2.wav',
      'F8_SYS/settings.bin',
    ],
  ],
  ['sound recorder', "recorders' manuals", ['210101_001_Tr1.WAV', '210101_001_Tr2.WAV']],
];

describe('a card is known by its layout', () => {
  test.each(CARDS)('%s (%s)', (layout, _, paths) => {
    expect(cardLayoutOf(tree(...paths))?.layout).toBe(layout);
    const lower = tree(...paths.map((path) => path.toLowerCase()));
    expect(cardLayoutOf(lower)?.layout).toBe(layout);
  });

  test('what the system and the trash left on it, and one folder of a person, change nothing', () => {
    const more = ['.Trashes/501/', 'System Volume Information/', '.fseventsd/x', '._DCIM', 'for the editor/notes.txt'];
    expect(cardLayoutOf(tree('DCIM/100ABCDE/ABCD0001.JPG', ...more))?.layout).toBe('DCIM');
  });

  test('the evidence names what was seen', () => {
    expect(cardLayoutOf(tree('CONTENTS/CLIP/', 'CONTENTS/VIDEO/'))?.evidence).toBe('CONTENTS/CLIP, CONTENTS/VIDEO');
  });
});

describe('what is no card', () => {
  test.each<[string, string[]]>([
    ['nothing at all', []],
    ['a card copied into a folder', ['Card A/DCIM/100ABCDE/ABCD0001.JPG']],
    ['a card copied below a shooting day', ['Saltmarsh/Day 3/CONTENTS/CLIP/', 'Saltmarsh/Day 3/CONTENTS/VIDEO/']],
    ['a backup drive with a DCIM beside projects', ['DCIM/100ABCDE/', 'Saltmarsh/', 'Lock Keepers/']],
    ['a working volume', ['Saltmarsh/Rushes/A001.mov', 'Tidewater Sessions/A001.mov', 'Renders/a.mov', 'Media Cache/']],
    ['a system disk', ['etc/', 'usr/', 'home/', 'DCIM/100ABCDE/']],
    ['a DCIM with folders by date', ['DCIM/2027-03-04/a.jpg']],
    ['DCF numbers begin at 100 (JEITA CP-3461)', ['DCIM/099ABCDE/ABCD0001.JPG']],
    ['a folder DCIM alone', ['DCIM/']],
    ['a Clip folder without the lists of a card', ['Clip/C0001.MXF']],
    ['music', ['First song.wav', 'Second song.wav', 'Third song.wav']],
    ['takes beside picture', ['Scene001-T001.wav', 'edit.mov']],
    [
      'a shuttle drive with many reels',
      ['A001R2EC', 'B001R2EC', 'C001R2EC'].map((reel) => `${reel}/${reel.slice(0, 4)}C001_270304_R2EC.mov`),
    ],
    ['a reel folder with other pictures', ['A002R2EC/A002C006_141024_R2EC.mov', 'A002R2EC/cut.mov']],
    ['a file that only has the name of a folder', ['DCIM', 'CONTENTS']],
    ['signs below the third level', ['a/b/c/DCIM/100ABCDE/x.jpg']],
  ])('%s', (_, paths) => expect(cardLayoutOf(tree(...paths))).toBeNull());
});

describe('the root of a copied card', () => {
  test.each<[string, string | null, string | null]>([
    ['Saltmarsh/Day 3/Card A/PRIVATE/M4ROOT/CLIP/C0001.MP4', 'Saltmarsh/Day 3/Card A', 'XAVC (M4ROOT)'],
    ['Saltmarsh/Card B/M4ROOT/SUB/C0001S03.MP4', 'Saltmarsh/Card B', 'XAVC (M4ROOT)'],
    ['Day 1/PRIVATE/AVCHD/BDMV/STREAM/00000.MTS', 'Day 1', 'AVCHD'],
    ['Day 1/BDMV/CLIPINF/00000.CPI', 'Day 1', 'AVCHD'],
    ['Day 1/P2 one/CONTENTS/AUDIO/0001AB00.MXF', 'Day 1/P2 one', 'P2'],
    ['CONTENTS/VIDEO/0001AB.MXF', '', 'P2'],
    ['x/BPAV/CLPR/709_001_01/709_001_01.MP4', 'x', 'XDCAM EX'],
    ['x/Clip/C0001.MXF', 'x', 'XDCAM'],
    ['x/card/DCIM/100ABCDE/ABCD0001.JPG', 'x/card', 'DCIM'],
    ['x/dcim/101abcde/abcd0001.mp4', 'x', 'DCIM'],
    ['Day 1/A004.RDM/A004_C001_1223XX.RDC/A004_C001_1223XX_001.R3D', 'Day 1', 'R3D'],
    ['Day 1/A002R2EC/A002C006_141024_R2EC.mov', 'Day 1/A002R2EC', 'reel folder'],
    ['Day 1/A002R2EC/Clips/A002C006_141024_R2EC.mov', 'Day 1/A002R2EC', 'reel folder'],
    ['new\nline/DCIM/100ABCDE/a\nb.jpg', 'new\nline', 'DCIM'],
    ['Saltmarsh/Rushes/C0001.MP4', null, null],
    ['Saltmarsh/A002C006_141024_R2EC.mov', null, null],
    ['Player.app/Contents/Resources/en.lproj', null, null],
    ['web/contents/video/intro.mp4', null, null],
    ['Saltmarsh/Clip/final cut.mov', null, null],
    ['C0001.MP4', null, null],
  ])('%j', (path, root, layout) => {
    expect(cardRootOn(path)).toBe(root);
    expect(copiedCardOf(path)?.layout ?? null).toBe(layout);
  });
});
