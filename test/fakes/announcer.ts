import type { Announcer } from '../../src/core/notify/queue-port.ts';

/** As where the configuration names no channel. */
export const noChannels: Announcer = { messagesOf: () => [], kept() {}, unkept() {}, withdraw: async () => {} };
