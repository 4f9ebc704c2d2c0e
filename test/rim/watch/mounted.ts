import { execFileSync, spawnSync } from 'node:child_process';

/** A mount that can be made and ended. */
export interface Mounted {
  mount(): void;
  unmount(): void;
}

/** Where programs for mounting are installed that are not on every PATH. */
export const WITH_SBIN = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin:/sbin` };

/** Ends a mount although it is busy for as long as the watching process happens to read a folder. */
export function mounted(mountPoint: string, make: () => unknown): Mounted {
  let isMounted = false;
  return {
    mount: () => {
      make();
      isMounted = true;
    },
    unmount: () => {
      for (let attempt = 1; isMounted && attempt <= 50; attempt += 1) {
        isMounted = spawnSync('umount', [mountPoint], { env: WITH_SBIN }).status !== 0;
        if (isMounted) execFileSync('sleep', ['0.02']);
      }
      if (isMounted) throw new Error(`${mountPoint} cannot be unmounted: it stays busy`);
    },
  };
}
