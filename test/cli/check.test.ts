import { memfs } from 'memfs';
import { describe, expect, test } from 'vitest';
import { checkConfig } from '../../src/cli/check.ts';
import { exitCodes } from '../../src/cli/exit-codes.ts';

/** What a person would read, for a disk with one file on it. */
function check(text: string, path = '/config/headroomd.toml') {
  const { fs } = memfs({ '/config/headroomd.toml': text, '/config/folder/x': '' });
  const said = { out: '', err: '' };
  const io = {
    readFile: (file: string) => fs.readFileSync(file, 'utf8') as string,
    out: (line: string) => {
      said.out += line;
    },
    err: (line: string) => {
      said.err += line;
    },
  };
  return { code: checkConfig(io, path, '/home/editor'), ...said };
}

describe('check --config', () => {
  test('says of a right file what was understood', () => {
    const text = `[[volume]]
name = "stripe"
path = "~/stripe"
[[shelf]]
name = "shelf-a"
path = "/media/shelf-a"
[[shelf]]
name = "shelf-b"
path = "/media/shelf-b"
[[backup]]
from = "stripe"
to = ["shelf-a", "shelf-b"]
[[plan]]
project = "Tidewater Sessions"
days = ["2027-03-04", "2027-03-05"]
cameras = 5
format = "ProRes 422 HQ"
raster = "3840x2160"
rate = 25
hours = 6
`;
    expect(check(text)).toEqual({
      code: exitCodes.ok,
      out: '/config/headroomd.toml is fine: 1 volume (stripe at /home/editor/stripe); 2 shelves (shelf-a at /media/shelf-a, shelf-b at /media/shelf-b); 1 backup (stripe to shelf-a and shelf-b); 1 shoot plan (Tidewater Sessions on 2 days).\n',
      err: '',
    });
  });

  test('tells each problem on a line, then how many', () => {
    const text = '[[volume]]\nname = "stripe"\npath = "/media/stripe"\nreserve = "ten"\nreserv = "10%"\n';
    expect(check(text)).toEqual({
      code: exitCodes.badConfiguration,
      out: [
        '/config/headroomd.toml:4:11  volume[0].reserve: expected a share like "10%" or a size like "500 GB", found "ten"',
        '/config/headroomd.toml:5:1  volume[0].reserv: expected one of the keys name, path, projects, ingest, ignore, shared, kinds, reserve, layout, speed, multicam, speed_reserve, found "reserv"  (did you mean "reserve"?)',
        '2 problems in /config/headroomd.toml. Nothing was started or changed.',
        '',
      ].join('\n'),
      err: '',
    });
  });

  test('a problem of the file as a whole has no line', () => {
    expect(check('').out).toMatch(
      /^\/config\/headroomd\.toml {2}volume: expected at least one \[\[volume\]\] table, found none/,
    );
    expect(check('').out).toContain('\n1 problem in /config/headroomd.toml.');
  });

  test('nothing in the file reaches the terminal raw', () => {
    const { out } = check('[[volume]]\nname = "\\u001b[2J🎬"\npath = "/media/\\u0007"\n"\\u009b" = 1\n');
    expect(out).toContain('found "\\u001B[2J🎬"');
    expect(out.replaceAll('\n', '')).not.toMatch(/[\p{Cc}\p{Cf}]/u);
    const fine = check('[[volume]]\nname = "stripe"\npath = "/media/\\u001b[2J"\n');
    expect(fine).toMatchObject({ code: exitCodes.ok, out: expect.stringContaining('stripe at /media/\\u001B[2J') });
  });

  test.each([
    [
      '/config/nothing.toml',
      '/config/nothing.toml: there is no such file. Give the path of a configuration with --config FILE.\n',
    ],
    ['/config/folder', '/config/folder: this is a folder. Give the path of the file in it.\n'],
    [
      '/config/\u001b[2J',
      '/config/\\u001B[2J: there is no such file. Give the path of a configuration with --config FILE.\n',
    ],
  ])('a file that cannot be read: %j', (path, err) => {
    expect(check('', path)).toEqual({ code: exitCodes.badConfiguration, out: '', err });
  });

  test.each([
    ['EACCES', 'locked.toml: it may not be read. Give your user the right to read it (chmod u+r).\n'],
    ['EIO', 'locked.toml: it could not be read (EIO: told by the disk). Check the path and the disk it lies on.\n'],
  ])('a disk that answers %s', (code, told) => {
    const said: string[] = [];
    const io = {
      readFile: () => {
        throw Object.assign(new Error(`${code}: told by the disk`), { code });
      },
      out: (line: string) => said.push(line),
      err: (line: string) => said.push(line),
    };
    expect(checkConfig(io, 'locked.toml', '/')).toBe(exitCodes.badConfiguration);
    expect(said).toEqual([told]);
  });
});
