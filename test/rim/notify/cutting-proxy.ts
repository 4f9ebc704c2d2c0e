import type { AddressInfo } from 'node:net';
import { connect, createServer, type Socket } from 'node:net';

export interface CuttingProxy {
  port: number;
  cuts(): number;
  close(): Promise<void>;
}

/** Stands before a server on loopback, and cuts the first connections once so many bytes went there. */
export async function cuttingProxy(
  aim: number,
  { after, times }: { after: number; times: number },
): Promise<CuttingProxy> {
  let cut = 0;
  const open = new Set<Socket>();
  const server = createServer((inward) => {
    const outward = connect(aim, '127.0.0.1');
    const isCut = cut < times;
    let went = 0;
    for (const socket of [inward, outward]) {
      open.add(socket);
      socket.on('error', () => {});
      socket.on('close', () => {
        open.delete(socket);
        inward.destroy();
        outward.destroy();
      });
    }
    outward.pipe(inward);
    inward.on('data', (chunk: Buffer) => {
      const most = isCut ? Math.max(0, after - went) : chunk.length;
      went += chunk.length;
      outward.write(chunk.subarray(0, most));
      if (!isCut || went < after || inward.destroyed) return;
      cut += 1;
      inward.destroy();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.address() as AddressInfo).port,
    cuts: () => cut,
    async close() {
      for (const socket of open) socket.destroy();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
