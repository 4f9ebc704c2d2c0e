import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { PathText } from '../../src/core/model.ts';
import type { RootPort } from '../../src/core/root-port.ts';
import { Picture } from '../rim/watch/watched.ts';

/** A root to test, empty and not yet started, and the hands that change what is on it. */
export interface RootSubject {
  root: RootPort;
  /** Writes a file of so many bytes, with its folders; again: it grows. */
  write(path: PathText, bytes: number): void;
  remove(path: PathText): void;
  /** Keeps a file open for writing until the returned function is called. */
  holdOpen(path: PathText): () => Promise<void>;
  /** Takes the root away, and brings it back with all that is on it. */
  unplug(): void;
  plug(): void;
  end(): Promise<void>;
}

/** What every root must do, the real one and the fake. */
export function rootContract(name: string, make: () => Promise<RootSubject>): void {
  describe(`${name}: a root`, () => {
    let subject: RootSubject;
    let picture: Picture;

    beforeEach(async () => {
      subject = await make();
      picture = new Picture();
    });
    afterEach(async () => {
      await subject.root.stop();
      await subject.end();
    });

    const started = async (): Promise<void> => {
      subject.root.start((event) => picture.take(event));
      await picture.until('swept', () => picture.count('swept') > 0);
      await new Promise((resolve) => setTimeout(resolve, 400));
    };

    test('begins with its state, every folder and the end of the sweep, in this order', async () => {
      subject.write('Saltmarsh/card/a.mov', 3);
      subject.write('b.mov', 5);
      await started();
      expect(picture.events.map((event) => (event.type === 'state' ? event.state : event.type)).slice(0, 3)).toEqual([
        'starting',
        'live',
        'listing',
      ]);
      const swept = picture.events.findIndex((event) => event.type === 'swept');
      const before = picture.events.slice(0, swept).flatMap((event) => (event.type === 'listing' ? [event.dir] : []));
      expect(before.sort()).toEqual(['', 'Saltmarsh', 'Saltmarsh/card']);
      expect(picture.events[swept]).toMatchObject({ folders: 3, files: 2 });
      expect(picture.files.get('Saltmarsh/card/a.mov')).toMatchObject({ size: 3, nlink: 1, ino: expect.any(BigInt) });
    });

    test('tells what is written, changed and removed', async () => {
      await started();
      subject.write('Saltmarsh/a.mov', 3);
      subject.write('Saltmarsh/b.mov', 3);
      await picture.until('both', () => picture.files.size === 2);
      const before = picture.files.get('Saltmarsh/a.mov');
      subject.write('Saltmarsh/a.mov', 9);
      await picture.until('grown', () => picture.files.get('Saltmarsh/a.mov')?.size === 9);
      const after = picture.files.get('Saltmarsh/a.mov');
      expect(after?.ino).toBe(before?.ino);
      expect(after?.mtimeNs).toBeGreaterThan(before?.mtimeNs ?? 0n);
      subject.remove('Saltmarsh/a.mov');
      await picture.until('one', () => picture.paths().join() === 'Saltmarsh/b.mov');
      subject.remove('Saltmarsh');
      await picture.until('none', () => picture.files.size === 0);
    });

    test('inspect answers for every path, in order, and never refuses for one of them', async () => {
      subject.write('a.mov', 0);
      subject.write('b.mov', 5);
      await started();
      const evidence = await subject.root.inspect(['b.mov', 'none.mov', 'a.mov']);
      expect(evidence.map(({ path, stat, error }) => [path, stat?.size, error])).toEqual([
        ['b.mov', 5, null],
        ['none.mov', undefined, null],
        ['a.mov', 0, null],
      ]);
      expect(evidence[2]?.wholeness).toBe('empty');
      expect(await subject.root.inspect([])).toEqual([]);
    });

    test('a writer is seen while it has the file open', async () => {
      subject.write('a.mov', 5);
      await started();
      const close = subject.holdOpen('a.mov');
      expect((await subject.root.inspect(['a.mov']))[0]?.writers).toBe('open');
      await close();
      const writers = async () => (await subject.root.inspect(['a.mov']))[0]?.writers;
      await expect.poll(writers, { timeout: 3000 }).toBe('none');
    });

    test('sweep is through when it says so, and tells of every folder again', async () => {
      subject.write('Saltmarsh/a.mov', 5);
      await started();
      const before = picture.events.length;
      await subject.root.sweep();
      const told = picture.events.slice(before).flatMap((event) => (event.type === 'listing' ? [event.dir] : []));
      expect(new Set(told)).toEqual(new Set(['', 'Saltmarsh']));
      expect(picture.events.at(-1)?.type).toBe('swept');
    });

    test('probe asks the prober; space is plausible', async () => {
      subject.write('a.mov', 5);
      await started();
      const stat = picture.files.get('a.mov');
      if (stat === undefined) throw new Error('a.mov was not told');
      expect(await subject.root.probe(stat)).toMatchObject({ ok: true, raw: { tracks: [{ path: 'a.mov' }, {}] } });
      const space = await subject.root.space();
      expect(space.totalBytes).toBeGreaterThan(0);
      expect(space.freeBytes).toBeLessThanOrEqual(space.totalBytes);
      expect(space.availableBytes).toBeLessThanOrEqual(space.freeBytes);
    });

    test('missing names what is not there: files, folders, what lies below a file; nothing else', async () => {
      subject.write('Saltmarsh/a.mov', 5);
      await started();
      const asked = ['Saltmarsh/a.mov', 'Saltmarsh', 'Saltmarsh/b.mov', 'none', 'none/c.mov', 'Saltmarsh/a.mov/d'];
      expect(await subject.root.missing(asked)).toEqual(asked.slice(2));
      expect(await subject.root.missing([])).toEqual([]);
      // What is known is not asked: only what is there.
      subject.remove('Saltmarsh');
      expect(await subject.root.missing(['Saltmarsh/a.mov', ''])).toEqual(['Saltmarsh/a.mov']);
    });

    test('manifest asks the reader', async () => {
      subject.write('Saltmarsh/list.mhl', 5);
      await started();
      const stat = picture.files.get('Saltmarsh/list.mhl');
      if (stat === undefined) throw new Error('the manifest was not told');
      const files = [{ path: 'a.mov', size: 5, mtimeMs: null }];
      expect(await subject.root.manifest(stat)).toEqual({ ok: true, base: 'Saltmarsh', files, gap: null });
    });

    test('a root that goes away: absent, nothing told gone, what is asked is refused; then live and swept again', async () => {
      subject.write('Saltmarsh/a.mov', 5);
      await started();
      subject.unplug();
      await picture.until('absent', () => picture.state === 'absent', 4000);
      await expect(subject.root.space()).rejects.toThrow();
      await expect(subject.root.sweep()).rejects.toThrow();
      // Nothing can be found out of a file now: an answer would be taken for one about the file.
      const stat = picture.files.get('Saltmarsh/a.mov');
      if (stat === undefined) throw new Error('a.mov was not told');
      await expect(subject.root.inspect(['Saltmarsh/a.mov'])).rejects.toThrow();
      await expect(subject.root.probe(stat)).rejects.toThrow();
      await expect(subject.root.missing(['Saltmarsh/a.mov'])).rejects.toThrow();
      await expect(subject.root.manifest(stat)).rejects.toThrow();
      expect([picture.count('gone'), picture.paths()]).toEqual([0, ['Saltmarsh/a.mov']]);
      const swept = picture.count('swept');
      subject.plug();
      await picture.until('swept again', () => picture.state === 'live' && picture.count('swept') > swept, 4000);
      expect(picture.paths()).toEqual(['Saltmarsh/a.mov']);
    });

    test('after stop nothing is told and everything is refused', async () => {
      await started();
      await subject.root.stop();
      const before = picture.events.length;
      subject.write('late.mov', 5);
      await expect(subject.root.space()).rejects.toThrow();
      await new Promise((resolve) => setTimeout(resolve, 200));
      expect(picture.events).toHaveLength(before);
    });

    test('the sweep does not run far ahead of a listener that takes its time', async () => {
      for (let dir = 0; dir < 80; dir += 1) subject.write(`${dir}/a.mov`, 1);
      let busy = 0;
      let most = 0;
      subject.root.start(async (event) => {
        if (event.type === 'listing') {
          busy += 1;
          most = Math.max(most, busy);
          await new Promise((resolve) => setTimeout(resolve, 2));
          busy -= 1;
        }
        picture.take(event);
      });
      await picture.until('swept, and all taken', () => picture.count('swept') > 0 && busy === 0);
      // The real one lets some go ahead, so that neither side waits for the other.
      expect(most).toBeLessThanOrEqual(32);
      expect(picture.files.size).toBe(80);
    });
  });
}
