import { existsSync, mkdirSync, rmdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/**
 * Holds what this process and those it starts read from and write to a drive to so many bytes a second, by the kernel's block layer
 * (cgroup v1, blkio.throttle; Documentation/admin-guide/cgroup-v1/blkio-controller.rst): a drive whose speed is known, and does not
 * change from one minute to the next. The returned function ends it.
 * @throws where that is not to be had
 */
export function holdDrive(folder: string, bps: number): () => void {
  const root = '/sys/fs/cgroup/blkio';
  if (!existsSync(join(root, 'blkio.throttle.read_bps_device'))) throw new Error('there is no blkio.throttle here');
  const group = join(root, `headroomd-bench-${process.pid}`);
  mkdirSync(group);
  const { dev } = statSync(folder);
  const rule = `${(dev >> 8) & 0xfff}:${dev & 0xff} ${Math.round(bps)}`;
  for (const way of ['read', 'write']) writeFileSync(join(group, `blkio.throttle.${way}_bps_device`), rule);
  writeFileSync(join(group, 'cgroup.procs'), String(process.pid));
  return () => {
    writeFileSync(join(root, 'cgroup.procs'), String(process.pid));
    rmdirSync(group);
  };
}
