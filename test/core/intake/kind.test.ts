import { describe, expect, test } from 'vitest';
import { isFootageName, isMedia, kindOf } from '../../../src/core/intake/kind.ts';
import type { Kind } from '../../../src/core/model.ts';

// What extensions and folder names mean: common practice, no source. Card layouts: XMP Toolkit SDK handlers.
describe('kind', () => {
  test.each([
    ['Footage/A001.mov', 'original', 'extension .mov'],
    ['A001.MXF', 'original', 'extension .mxf'],
    ['PRIVATE/AVCHD/BDMV/STREAM/00000.MTS', 'original', 'extension .mts'],
    ['A001_C001.R3D', 'original', 'extension .r3d'],
    ['scan/scan_0001.dpx', 'original', 'extension .dpx'],
    ['A001_C001_000001.dng', 'original', 'numbered .dng frame'],
    ['DCIM/DSC_0001.DNG', 'still', 'extension .dng'],
    ['Audio/mix.wav', 'sound', 'extension .wav'],
    ['DSC_0001.JPG', 'still', 'extension .jpg'],
    ['Graphics/logo.jpg', 'graphics', 'folder Graphics'],
    ['lower third.psd', 'graphics', 'extension .psd'],
    ['cut.prproj', 'project-file', 'extension .prproj'],
    ['cut.edl', 'project-file', 'extension .edl'],
    ['Timelines/cut.xml', 'project-file', 'timeline in folder TIMELINES'],
    ['Clip/C0001M01.XML', 'sidecar', 'extension .xml'],
    ['THMBNL/C0001T01.JPG', 'sidecar', 'thumbnail folder THMBNL'],
    ['CONTENTS/ICON/0001AB.BMP', 'sidecar', 'icon folder of a card'],
    ['DJI_0001.SRT', 'sidecar', 'extension .srt'],
    ['GL011234.LRV', 'proxy', 'extension .lrv'],
    ['LRV_20260110_121609_11_657.insv', 'proxy', 'name begins with LRV_'],
    ['VID_20260110_121609_00_657.insv', 'original', 'extension .insv'],
    ['A_0001C001_Proxy.MP4', 'proxy', 'name ends in proxy'],
    ['A_0001C001_Proxy.XML', 'sidecar', 'extension .xml'],
    ['mix_proxy.wav', 'sound', 'extension .wav'],
    ['Sub/C0001S01.MXF', 'proxy', 'sub-stream of a card'],
    ['PROAV/CLPR/C0001/C0001S01.MXF', 'proxy', 'sub-stream of a card'],
    ['Clip/C0001.MXF', 'original', 'extension .mxf'],
    ['Footage/SCENES01.mov', 'original', 'extension .mov'],
    ['CONTENTS/PROXY/0001AB.MP4', 'proxy', 'folder PROXY'],
    ['Proxies/A001.mov', 'proxy', 'folder Proxies'],
    ['Renders/A001.mov', 'render', 'folder Renders'],
    ['Exports/mix.wav', 'render', 'folder Exports'],
    ['Renders/Proxies/A001.mov', 'proxy', 'folder Proxies'],
    ['Media Cache Files/A001.mov', 'cache', 'folder Media Cache Files'],
    ['A001.pek', 'cache', 'extension .pek'],
    ['Exports/cut.xml', 'sidecar', 'extension .xml'],
    ['Exports/notes.txt', 'other', 'unknown extension .txt'],
    ['README', 'other', 'no extension'],
  ])('%s is %s', (path, kind, reason) => {
    expect(kindOf(path)).toEqual({ kind, reason });
  });

  test('in doubt a media file is an original, so that safety sees it', () => {
    for (const folder of [
      'Output',
      'Temp',
      'scratch',
      'Masters',
      'Cache Valley',
      'A001.RDC',
      'Sub',
      'Project Render Farm',
    ]) {
      expect(kindOf(`${folder}/A001.mov`).kind).toBe('original');
    }
  });
});

describe('folders that the configuration names', () => {
  const configured = new Map<string, Kind>([
    ['dailies', 'proxy'],
    ['exports', 'original'],
    ['für ton', 'cache'],
    ['grades', 'render'],
  ]);
  test.each([
    ['Dailies/A001.mov', 'proxy', 'configured folder Dailies'],
    ['dailies/mix.wav', 'proxy', 'configured folder dailies'],
    ['Dailies/A001.xml', 'sidecar', 'extension .xml'],
    ['Dailies/cut.edl', 'project-file', 'extension .edl'],
    ['Exports/A001.mov', 'original', 'configured folder Exports'],
    ['Exports/mix.wav', 'sound', 'configured folder Exports'],
    ['Exports/A001_Proxy.mov', 'proxy', 'name ends in proxy'],
    ['Exports/Grades/A001.mov', 'render', 'configured folder Grades'],
    // Before what a name closer to the file would say.
    ['Exports/Proxies/A001.mov', 'original', 'configured folder Exports'],
    ['Fu\u0308r Ton/mix.xml', 'cache', 'configured folder Fu\u0308r Ton'],
    ['Renders/A001.mov', 'render', 'folder Renders'],
    ['Dailies.mov', 'original', 'extension .mov'],
  ])('%s is %s', (path, kind, reason) => {
    expect(kindOf(path, configured)).toEqual({ kind, reason });
  });
});

test('what the probe reads', () => {
  expect(isMedia('original', 'mov')).toBe(true);
  expect(isMedia('render', 'wav')).toBe(true);
  expect(isMedia('proxy', 'lrv')).toBe(true);
  expect(isMedia('original', 'dpx')).toBe(true);
  expect(isMedia('still', 'jpg')).toBe(false);
  expect(isMedia('cache', 'mov')).toBe(false);
  expect(isMedia('original', 'xml')).toBe(false);
});

test('which names promise recorded content', () => {
  expect(['a.mov', 'a.WAV', 'a.jpg', 'a.cr3', 'a.lrv', 'a.dpx'].every(isFootageName)).toBe(true);
  expect(['a.xml', 'a.txt', 'a', 'a.prproj', 'mov'].some(isFootageName)).toBe(false);
});
