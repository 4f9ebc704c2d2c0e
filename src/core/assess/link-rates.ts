/** A way to the drives: bytes per second it gives at most, and whether drives behind it each have a share of its lanes. */
export interface Link {
  bps: number;
  lanes: boolean;
}

const MB = 1_000_000;

/**
 * What each link gives to large requests at most, MB/s: signalling rate less line coding and protocol, as seen in practice. SATA, USB
 * and the tunnels of 40 and 80 Gb/s: vendors' pages and public measurements; SAS, PCI Express, USB4 and the older tunnels: from
 * memory, below the ceiling that the line coding sets; Ethernet: TCP payload at an MTU of 1500 with timestamps.
 */
const MOST: Readonly<Record<string, number>> = {
  sata: 560,
  'sas-2': 580,
  'sas-3': 1180,
  'sas-4': 2350,
  'usb-5g': 500,
  'usb-10g': 1000,
  'usb-20g': 2000,
  usb4: 3800,
  'thunderbolt-1': 1000,
  'thunderbolt-2': 1400,
  'thunderbolt-3': 2850,
  'thunderbolt-4': 3100,
  'thunderbolt-5': 6600,
  'pcie-1-x4': 900,
  'pcie-2-x4': 1750,
  'pcie-3-x4': 3600,
  'pcie-4-x4': 7400,
  'pcie-5-x4': 14_500,
  '1gbe': 117,
  '2.5gbe': 293,
  '5gbe': 587,
  '10gbe': 1175,
  '25gbe': 2937,
  '40gbe': 4700,
  '100gbe': 11_750,
};

/** PCI Express, itself or through a tunnel: its lanes are shared out. */
const HAS_LANES = /^(pcie|thunderbolt|usb4)/;

/** The link of a name of the settings; `null` for one that is not known. */
export function linkOf(name: string | null): Link | null {
  const most = name === null ? undefined : MOST[name];
  return name === null || most === undefined ? null : { bps: most * MB, lanes: HAS_LANES.test(name) };
}
