import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { kindFolders } from '../../../src/core/intake/kind.ts';
import type { Clip } from '../../../src/core/model.ts';
import { type ClipJson, clipsTable, clipJson as jsonOf } from '../../../src/core/present/clips-table.ts';
import { display } from '../../../src/core/present/escape.ts';
import { columns } from '../../../src/core/present/text.ts';
import { sampleClip } from '../samples.ts';

const clipJson = (clip: Clip): ClipJson => jsonOf(clip, kindFolders({ render: ['Masters'] }));

/** The promised keys, and those added since. */
const KEYS = `project name paths bytes kind container codec profile width height frameRate scan bitDepth chroma
  durationSeconds frames videoBytes fileCount missingFrames videoBitrate overallBitrate startTimecode dropFrame reel camera
  recordedAt recordedAtBasis audioTracks state volume missingParts missingNames essenceCount parts groupedBy audioChannels
  variableRate sources disagreements troubles kindReason`.split(/\s+/);

describe('a clip as JSON', () => {
  test('has exactly the promised keys', () => {
    expect(Object.keys(clipJson(sampleClip())).sort()).toEqual([...KEYS].sort());
  });

  test('has the facts as they are, unknown ones as null', () => {
    // DV, 625/50: 144000 bytes a frame (IEC 61834), 28.8 Mb/s.
    const clip = sampleClip(
      { bytes: 36_000_500, missingFrames: [{ first: 7, last: 9 }] },
      { codec: 'DV', frames: 250, videoBytes: 36_000_000, videoBitrate: 28_800_000, startTimecode: '10:00:00:00' },
    );
    expect(clipJson(clip)).toMatchObject({
      codec: 'DV',
      frameRate: { num: 25, den: 1 },
      frames: 250,
      videoBytes: 36_000_000,
      videoBitrate: 28_800_000,
      startTimecode: '10:00:00:00',
      missingFrames: [{ first: 7, last: 9 }],
      reel: null,
      bitDepth: null,
    });
    expect(clipJson(sampleClip({}, { frameRate: null })).frameRate).toBeNull();
  });

  test('gives paths as text, escaping only bytes that were no UTF-8', () => {
    const clip = clipJson(sampleClip({ name: 'a\n\uf7e9.mov', paths: ['P/a\n\uf7e9.mov'], project: null }));
    expect(clip).toMatchObject({ name: 'a\n\\xe9.mov', paths: ['P/a\n\\xe9.mov'], project: null });
    expect(clipJson(sampleClip({ project: 'P\uf7e9' })).project).toBe('P\\xe9');
  });
});

describe('clips as a table', () => {
  const clips = [
    sampleClip(
      { name: 'A001C001_270304_R1AB.mov', bytes: 8e10 },
      { durationSeconds: 724, startTimecode: '14:03:10:12' },
    ),
    sampleClip(
      {
        name: 'shot_[0001-0024].dpx',
        missingFrames: [
          { first: 7, last: 7 },
          { first: 9, last: 11 },
        ],
      },
      { codec: 'DPX', durationSeconds: 0.96 },
    ),
    sampleClip(
      { project: null, name: 'raw.r3d', state: 'not-decoded' },
      { durationSeconds: null, width: null, frameRate: null },
    ),
  ].map(clipJson);

  test('one line each below its project, trouble below the line', () => {
    expect(clipsTable(clips, { width: 80 })).toBe(`Tidewater Sessions (stripe): 2 clips, 81.0 GB
  A001C001_270304_R1AB.mov       ProRes 1920x1080 25 fps   12 min 04 s   80.0 GB
  shot_[0001-0024].dpx           DPX 1920x1080 25 fps           0.96 s   1.00 GB
    frames missing: 7, 9-11. Copy them again from the card; keep the card.

Outside every project (stripe): 1 clip, 1.00 GB
  raw.r3d                        not decoded                   unknown   1.00 GB
    its picture cannot be read here; it is counted by its bytes alone
`);
  });

  test('says what is one take and why, what it lacks, what does not agree, and what was wrong', () => {
    const take = clipJson(
      sampleClip(
        {
          name: 'GX010042.MP4',
          ...{ essenceCount: 3, parts: 'spans', groupedBy: 'chapter-number', missingParts: [{ first: 2, last: 2 }] },
          missingNames: ['0003EF', 'id\u001b[2J', 'c', 'd', 'e', 'f'],
          disagreements: [
            { fact: 'frameRate', structure: '25', reader: '24' },
            { fact: 'codec', structure: 'DV', reader: 'H.264' },
          ],
          sources: { frameRate: 'structure', codec: 'reader' },
          troubles: ['the index is odd'],
        },
        { variableRate: true },
      ),
    );
    expect(clipsTable([take], { width: 100 }).split('\n').slice(1, -1)).toEqual([
      '  GX010042.MP4                  ProRes 1920x1080 25 fps, varies          10 s   1.00 GB',
      '    3 files that follow one another: by their chapter numbers',
      '    parts missing: 2, 0003EF, id\\x1b[2J, c, d and more. Copy them again from the card; keep the',
      '    card.',
      "    frame rate: the container says 25, the media reader 24; the container's counts",
      "    codec: the container says DV, the media reader H.264; the media reader's counts",
      '    the index is odd',
    ]);
  });

  test('says what is not counted as footage, and why', () => {
    const note = (kind: Clip['kind'], path: string) => {
      const clip = clipJson(sampleClip({ kind, paths: [`Tidewater Sessions/${path}`] }));
      return [clip.kindReason, clipsTable([clip], { width: 80 }).split('\n')[2]?.trim()];
    };
    expect(note('proxy', 'Proxies/a.mov')).toEqual(['folder Proxies', 'counted as proxy: folder Proxies']);
    expect(note('render', 'masters/a.mov')).toEqual([
      'configured folder masters',
      'counted as render: configured folder masters',
    ]);
    expect(note('proxy', 'a.lrv')).toEqual(['extension .lrv', 'counted as proxy: extension .lrv']);
    // It was one by what lay beside it, or by another configuration.
    expect(note('proxy', 'a.mov')).toEqual([null, 'counted as proxy']);
    expect(note('original', 'a.mov')).toEqual(['extension .mov', '']);
    expect(jsonOf(sampleClip({ kind: 'original', project: null, paths: ['a\uf7e9.mov'] }), new Map()).kindReason).toBe(
      'extension .mov',
    );
  });

  test('has room for the timecode on a wide screen', () => {
    expect(clipsTable(clips, { width: 110 }).split('\n')[1]).toMatch(/80\.0 GB {2}14:03:10:12$/);
  });

  test('says when there are none', () => expect(clipsTable([], { width: 80 })).toBe('No clips yet.\n'));

  test('stays within its width, and harmless, whatever the names are', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary' }),
        fc.string({ unit: 'binary' }),
        fc.constantFrom(60, 80, 99, 100, 140),
        (name, codec, width) => {
          const clip = clipJson(sampleClip({ name, project: name, volume: codec }, { codec, startTimecode: codec }));
          for (const line of clipsTable([clip], { width }).split('\n')) {
            expect(line).toBe(display(line));
            expect(columns(line)).toBeLessThanOrEqual(width);
          }
        },
      ),
    );
  });
});
