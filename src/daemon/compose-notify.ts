import { readFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { Fault, messageOf } from '../core/fault.ts';
import type { ChannelPort, SendOutcome } from '../core/notify/channel-port.ts';
import type { ChannelRule } from '../core/notify/delivery.ts';
import { testMessage } from '../core/notify/message.ts';
import { display } from '../core/present/escape.ts';
import { commandChannel } from '../rim/notify/command.ts';
import { desktopChannel } from '../rim/notify/desktop.ts';
import { mailChannel } from '../rim/notify/mail.ts';
import { readSecret } from '../rim/notify/secret-file.ts';
import { webhookChannel } from '../rim/notify/webhook.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { NotifySettings } from '../settings/full-settings.ts';
import type { Lifecycle } from './lifecycle.ts';
import { createNotifyFlow, type NotifyDeps, type NotifyFlow } from './notify/notify-flow.ts';

/** What an adapter needs to know of this machine. */
export interface ChannelWorld {
  host: string;
  zone: string;
  env: Readonly<Record<string, string | undefined>>;
  /** What a `secret_file` or `password_file` holds. Throws Fault `bad-configuration`. */
  secret: (written: string) => string;
}

type OfKind<Kind extends NotifySettings['kind']> = Extract<NotifySettings, { kind: Kind }>;

type Adapters = { [Kind in NotifySettings['kind']]: (settings: OfKind<Kind>, world: ChannelWorld) => ChannelPort };

/** How each kind is told: a new one is one line here. */
const ADAPTERS: Adapters = {
  webhook: (settings, { secret, host, zone }) =>
    webhookChannel({
      ...{ url: settings.url, allowPrivate: settings.private, host, zone, now: systemClock.now },
      secret: settings.secretFile === null ? null : secret(settings.secretFile),
      ca: settings.caFile === null ? null : certificates(settings.caFile),
    }),
  command: ({ argv }, { env, host, zone }) => commandChannel({ argv, env, host, zone }),
  mail: ({ security, from, to, login, ...settings }, { secret, host }) =>
    mailChannel({
      ...{ security, from, to, host, server: { host: settings.host, port: settings.port } },
      login: login === null ? null : { user: login.user, password: secret(login.passwordFile) },
      ca: settings.caFile === null ? null : certificates(settings.caFile),
    }),
  desktop: (_, { env }) => desktopChannel({ env }),
};

export interface ComposedChannel {
  rule: ChannelRule;
  port: ChannelPort;
}

/**
 * The channels of the configuration, with their secrets read. Nobody is told of anything yet.
 * @throws Fault `bad-configuration`: a secret or a certificate cannot be used
 */
export function composeChannels(
  settings: readonly NotifySettings[],
  zone: string,
  env: ChannelWorld['env'],
): ComposedChannel[] {
  const secret = (written: string) => readSecret(written, env['CREDENTIALS_DIRECTORY']);
  const world = { host: hostname(), zone, env, secret };
  return settings.map((one) => {
    const { name, severity, quiet, quietSeverity } = one;
    try {
      return { rule: { name, severity, quiet, quietSeverity }, port: adapterOf(one, world) };
    } catch (error) {
      throw new Fault('bad-configuration', `[[notify]] "${display(name)}": ${messageOf(error)}`, error);
    }
  });
}

/**
 * Whether the channels could be told of anything as they are configured. Nobody is told, and none stays open.
 * @throws Fault `bad-configuration`: a secret or a certificate cannot be used
 */
export async function tryChannelSettings(...of: Parameters<typeof composeChannels>): Promise<void> {
  for (const { port } of composeChannels(...of)) await port.close();
}

/** Begins to tell what waits; it ends with the rest of the daemon. */
export async function startChannels(
  channels: readonly ComposedChannel[],
  parts: Pick<NotifyDeps, 'queue' | 'log' | 'zone' | 'markOf'>,
  lifecycle: Lifecycle,
): Promise<NotifyFlow> {
  const flow = createNotifyFlow({ channels, ...parts, clock: systemClock });
  lifecycle.defer('the channels', flow.stop);
  await flow.start();
  return flow;
}

/** Sends one message, marked as a test, through each channel, one after the other. Closes them. Never rejects. */
export async function tryChannels(
  channels: readonly ComposedChannel[],
  zone: string,
  tried: (name: string, outcome: SendOutcome) => void,
): Promise<void> {
  const at = systemClock.now();
  for (const { rule, port } of channels) {
    tried(rule.name, await port.send(testMessage(rule.name, `test-${Math.round(at)}`, at, zone)));
    await port.close();
  }
}

function adapterOf(settings: NotifySettings, world: ChannelWorld): ChannelPort {
  const make = ADAPTERS[settings.kind] as (settings: NotifySettings, world: ChannelWorld) => ChannelPort;
  return make(settings, world);
}

function certificates(path: string): string {
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    throw new Error(`The certificates in ${display(path)} cannot be read: ${messageOf(error)}.`);
  }
  if (!text.includes('-----BEGIN CERTIFICATE-----'))
    throw new Error(`${display(path)} holds no certificate in PEM form (-----BEGIN CERTIFICATE-----).`);
  return text;
}
