import { describe, expect, test } from 'vitest';
import { cameraOf } from '../../../src/core/assess/camera.ts';
import { sampleClip } from '../samples.ts';

function cameraAt(path: string, reel: string | null = null, camera: string | null = null) {
  return cameraOf(sampleClip({ paths: [path], name: path.split('/').at(-1) ?? '' }, { reel, camera }));
}

describe('camera of a clip', () => {
  // Reel and clip naming as camera manuals show it (A004C010_..., A004_C001_..., A_0001C001...).
  test.each([
    ['P/x.mov', 'A001', 'A', 'reel'],
    ['P/x.mov', 'b002r2ec', 'B', 'reel'],
    ['P/x.mov', 'C_0001', 'C', 'reel'],
    ['P/A004C010_270304_R1JL.mov', null, 'A', 'reel'],
    ['P/B004_C001_0304XX.mov', null, 'B', 'reel'],
    ['P/C_0001C001X270304_120000_LK.mxf', null, 'C', 'reel'],
    ['P/D002R2EC/x.mov', null, 'D', 'reel'],
    ['P/A004.RDM/x.mov', null, 'A', 'reel'],
    ['P/A_CAM/x.mov', null, 'A', 'folder'],
    ['P/CAM_B/day 1/x.mov', null, 'B', 'folder'],
    ['P/Camera 1/x.mov', null, '1', 'folder'],
    ['P/cam2/x.mov', null, '2', 'folder'],
    ['P/CAMC/x.mov', null, 'C', 'folder'],
    ['P/x_take/camD_take3.mov', null, 'D', 'file-name'],
    ['P/B-cam_001.mov', null, 'B', 'file-name'],
    ['P/E_take1.mov', null, 'E', 'file-name'],
  ])('%s with reel %s is %s by its %s', (path, reel, camera, from) => {
    const guess = cameraAt(path, reel);
    expect(guess).toMatchObject({ camera, from });
    expect(guess.confidence).toBeGreaterThanOrEqual(0.6);
  });

  test('the reel goes before the folder, the nearest folder before one above', () => {
    expect(cameraAt('P/CAM_B/x.mov', 'A001').camera).toBe('A');
    expect(cameraAt('P/CAM_B/CAM_C/x.mov').camera).toBe('C');
  });

  test.each(['P/CAMERAS/x.mov', 'P/CAMS/x.mov', 'P/Camera/x.mov', 'P/Webcam/x.mov', 'P/C0001.MXF', 'P/GH011234.MP4'])(
    '%s tells no camera that can be relied on',
    (path) => expect(cameraAt(path).confidence).toBeLessThan(0.6),
  );

  test('model and prefix are guesses, together better than the prefix alone', () => {
    expect(cameraAt('P/C0001.MXF', null, 'Model Q')).toEqual({ camera: 'Model Q C', confidence: 0.5, from: 'model' });
    expect(cameraAt('P/wide_001.mov')).toEqual({ camera: 'wide', confidence: 0.4, from: 'file-name' });
    expect(cameraAt('P/0001.mov', null, 'Model Q')).toMatchObject({ camera: 'Model Q', from: 'model' });
    expect(cameraAt('P/x.mov')).toEqual({ camera: null, confidence: 0, from: 'nothing' });
  });

  test('a clip without paths goes by its name', () => {
    expect(cameraOf(sampleClip({ paths: [], name: 'B-cam_001.mov' })).camera).toBe('B');
  });
});
