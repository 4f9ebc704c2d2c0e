import { messageOf } from '../../core/fault.ts';
import type { ChannelPort } from '../../core/notify/channel-port.ts';
import { type ChannelRule, route } from '../../core/notify/delivery.ts';
import type { Announcer, MessageQueuePort, NewMessage } from '../../core/notify/queue-port.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { formatCount } from '../../core/units.ts';
import type { LineMark } from '../loop-marks.ts';
import { type ChannelLoop, createChannelLoop } from './channel-loop.ts';

export interface NotifyDeps {
  channels: readonly { rule: ChannelRule; port: ChannelPort }[];
  queue: MessageQueuePort;
  clock: Clock;
  log: Log;
  /** IANA name of the workstation's zone: quiet hours and times are told by its clocks. */
  zone: string;
  /** What the loop of a channel touches. */
  markOf?: (channel: string) => LineMark;
}

export interface NotifyFlow extends Announcer {
  start(): Promise<void>;
  /** Ends what is being sent, within a few seconds. What was not answered is sent again after the next start. */
  stop(): Promise<void>;
}

/** Tells the channels: each has its own order and its own pace, and none waits for another. */
export function createNotifyFlow(deps: NotifyDeps): NotifyFlow {
  const loops = new Map<string, ChannelLoop>(
    deps.channels.map(({ rule, port }) => {
      const mark = deps.markOf?.(rule.name);
      return [rule.name, createChannelLoop({ ...deps, rule, port, ...(mark === undefined ? {} : { mark }) })];
    }),
  );
  return {
    messagesOf(announced) {
      const at = deps.clock.now();
      return announced.flatMap(({ event, advisory }) =>
        deps.channels.flatMap(({ rule }): NewMessage[] => {
          const { isQueued, reason } = route(rule, event, advisory.severity);
          deps.log.debug({ channel: rule.name, advisory: advisory.id, event, reason }, 'channel chosen');
          return isQueued ? [{ channel: rule.name, event, advisory, at }] : [];
        }),
      );
    },
    kept() {
      for (const loop of loops.values()) loop.wake();
    },
    unkept(messages) {
      for (const message of messages) loops.get(message.channel)?.addUnkept(message);
    },
    async withdraw(advisories) {
      for (const loop of loops.values()) loop.dropUnkept(advisories);
      try {
        await deps.queue.withdraw(advisories);
      } catch (error) {
        deps.log.warn(
          { error: messageOf(error) },
          `What waits for channels of what is snoozed could not be taken back, and is told: ${messageOf(error)}`,
        );
      }
    },
    async start() {
      if (deps.channels.length === 0) return;
      try {
        const { dropped } = await deps.queue.resume([...loops.keys()]);
        if (dropped > 0)
          deps.log.warn(
            { dropped },
            `${formatCount(dropped, 'message')} waited for channels that the configuration no longer has; nobody is told of them.`,
          );
      } catch (error) {
        deps.log.error(
          { error: messageOf(error) },
          `What channels are still to be told cannot be read: ${messageOf(error)}`,
        );
      }
      for (const loop of loops.values()) loop.start();
    },
    stop: async () => void (await Promise.all([...loops.values()].map((loop) => loop.stop()))),
  };
}
