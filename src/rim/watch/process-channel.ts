import type { ChildChannel, FromChild, ToChild } from './protocol.ts';

/**
 * The line of a forked process to its parent. When the parent is gone this process ends, whatever it is doing: nobody
 * is left to tell.
 */
export function processChannel(): ChildChannel {
  const closed: (() => void)[] = [];
  process.on('disconnect', () => {
    for (const handler of closed) handler();
    process.exit(0);
  });
  // A terminal's Ctrl-C reaches the whole process group; ending is the daemon's to order.
  process.on('SIGINT', () => {});
  return {
    send: (message: FromChild) => {
      // A failed send means that the parent is going away; `disconnect` follows.
      if (process.connected) process.send?.(message, undefined, undefined, () => {});
    },
    onMessage: (handler) => {
      process.on('message', (message) => {
        const received = message as ToChild;
        handler(received);
        if (received.type === 'stop') process.exit(0);
      });
    },
    onClose: (handler) => closed.push(handler),
  };
}
