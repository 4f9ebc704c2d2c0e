import type { ChannelMessage, ChannelPort, SendOutcome } from '../../src/core/notify/channel-port.ts';

export interface FakeChannel extends ChannelPort {
  /** What arrived at the other side, answered or not. */
  arrived: ChannelMessage[];
  /** What it answers from now on. */
  answers(outcome: SendOutcome | 'never'): void;
}

/** A channel whose other side is told what to answer. */
export function fakeChannel(): FakeChannel {
  const arrived: ChannelMessage[] = [];
  let answer: SendOutcome | 'never' = { sent: true };
  let release = (_outcome: SendOutcome) => {};
  const stopped = { sent: false, retry: true, message: 'It was stopped.' } as const;
  let closed = false;
  return {
    arrived,
    answers(outcome) {
      answer = outcome;
    },
    async send(message) {
      if (closed) return stopped;
      arrived.push(message);
      if (answer !== 'never') return answer;
      return new Promise((resolve) => {
        release = resolve;
      });
    },
    async close() {
      closed = true;
      release(stopped);
    },
  };
}
