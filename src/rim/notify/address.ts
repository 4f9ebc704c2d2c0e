import type { LookupAddress } from 'node:dns';
import { BlockList } from 'node:net';

/** Never told anything: unspecified, link-local (where clouds keep their metadata), multicast, reserved (IANA special-purpose registries, RFC 6890). */
const REFUSED = listOf(
  ['0.0.0.0', 8],
  ['169.254.0.0', 16],
  ['224.0.0.0', 3],
  ['::', 128],
  ['fe80::', 10],
  ['ff00::', 8],
  // IPv4 addresses in other dress: translated (RFC 6052, RFC 8215) and tunnelled (RFC 3056, RFC 4380).
  ['64:ff9b::', 96],
  ['64:ff9b:1::', 48],
  ['2002::', 16],
  ['2001::', 32],
  // Metadata in the range of private addresses (from memory).
  ['fd00:ec2::254', 128],
);

const LOOPBACK = listOf(['127.0.0.0', 8], ['::1', 128]);

/** RFC 1918, RFC 6598, RFC 4193, and the site-local addresses of old. */
const PRIVATE = listOf(
  ['10.0.0.0', 8],
  ['172.16.0.0', 12],
  ['192.168.0.0', 16],
  ['100.64.0.0', 10],
  ['fc00::', 7],
  ['fec0::', 10],
);

export type AddressKind = 'refused' | 'loopback' | 'private' | 'public';

/** What an address is. An IPv4 address that is written as IPv6 (`::ffff:10.0.0.1`) is what it is as IPv4. */
export function kindOf({ address, family }: LookupAddress): AddressKind {
  const type = family === 6 ? 'ipv6' : 'ipv4';
  if (REFUSED.check(address, type)) return 'refused';
  if (LOOPBACK.check(address, type)) return 'loopback';
  return PRIVATE.check(address, type) ? 'private' : 'public';
}

function listOf(...nets: [string, number][]): BlockList {
  const list = new BlockList();
  for (const [net, prefix] of nets) list.addSubnet(net, prefix, net.includes(':') ? 'ipv6' : 'ipv4');
  return list;
}
